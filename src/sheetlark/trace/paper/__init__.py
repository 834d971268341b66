"""From a picture to its views: the ink, the solids it encloses, and which of them is which view."""
