"""What is known of the lenses of phones and action cameras before anything is marked."""

USUAL_FOCAL = 0.75
"""Focal length of a phone's main camera over the picture's longer side (common practice, no source)."""
USUAL_FOCAL_LOG_SD = 0.5
CENTRE_SHARE_SD = 0.006
"""How far a principal point strays from the picture's centre, over the longer side (common practice, no source)."""
CROPPED_SHARE_SD = 0.3
"""The same for a picture that was cut from a larger one."""
K1_SD = 0.06
"""Bend of phones and action cameras half the longer side from the centre, as a share (common practice, no source)."""
K2_SD = 0.012
LEAST_FOCAL = 0.1
"""Over half the longer side: 169 degrees across without bend, which no lens shows (the widest action cameras have 0.7,
common practice). Marks that ask for less are marks of no camera, and the search would run on towards 0."""
