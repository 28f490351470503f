"""What a view is: a camera model that maps the floor to the picture and back."""
