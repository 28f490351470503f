"""The film on the screen: the frame, its time bar, its serves."""
