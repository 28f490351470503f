"""The view: from pixels of the picture to metres on the floor and back."""
