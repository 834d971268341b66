"""From views to outlines: surfaces, body, hinges, struts and wheels, at model size."""
