"""From outlines to a starting design, fitted out, mended and weighed."""
