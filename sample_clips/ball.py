"""The ball in the picture: orange, cream and teal panels, smeared by the shutter, and its shadow on the floor."""

from __future__ import annotations

import numpy as np

from sample_clips.flight import RADIUS_M, Array
from sample_clips.lens import Camera
from sample_clips.people import LAMP_SLANT, Picture, shade

EXPOSURES = 7
PANELS = np.array([[232.0, 128.0, 48.0], [244.0, 240.0, 228.0], [30.0, 132.0, 140.0]])
LIGHT = np.array([-0.36, -0.72, -0.60])


def ball_shadow(picture: Picture, camera: Camera, place_m: Array) -> None:
    """The soft shadow of a ball at place_m (3,), sharper and darker the closer it is to the floor."""
    height = max(0.0, float(place_m[2]) - RADIUS_M)
    depth = camera.depth_m(place_m)
    if depth < 1.5:
        return
    centre = (place_m[:2] + height * LAMP_SLANT)[None]
    blur = max(0.9, camera.matrix[0, 0] / depth * (0.02 + 0.05 * height))
    shade(picture, camera, [(centre, np.array([RADIUS_M * 0.9]))], blur, 0.55 / (1 + 0.55 * height))
    if height < 0.3:
        touch = [(place_m[None, :2], np.array([0.055]))]
        shade(picture, camera, touch, max(0.7, 0.02 * camera.matrix[0, 0] / depth), 0.5 * (1 - height / 0.3))


def draw_ball(picture: Picture, camera: Camera, places_m: Array, turn_rad: Array) -> None:
    """Paint the mean of several exposures of a ball at places_m (M, 3), turned by turn_rad (M,)."""
    seen = camera.depths_and_rays(places_m)
    if seen[:, 2].min() < 1.2:
        return
    pixels = seen[:, :2] / seen[:, 2:]
    radii = RADIUS_M * camera.matrix[0, 0] / seen[:, 2]
    left, top = np.maximum(np.floor((pixels - radii[:, None]).min(axis=0)) - 1, 0).astype(int)
    right, bottom = np.minimum(np.ceil((pixels + radii[:, None]).max(axis=0)) + 2, camera.size).astype(int)
    if right <= left or bottom <= top:
        return
    columns, rows = np.meshgrid(np.arange(left, right), np.arange(top, bottom))
    colour = np.zeros((*columns.shape, 3))
    cover = np.zeros((*columns.shape, 1))
    for pixel, radius, turn in zip(pixels, radii, turn_rad, strict=True):
        u, v = (columns - pixel[0]) / radius, (rows - pixel[1]) / radius
        distance = np.hypot(u, v)
        alpha = np.clip((1 - distance) * radius + 0.5, 0, 1)[..., None]
        colour += alpha * sphere_colour(u, v, distance, float(turn))
        cover += alpha
    patch = picture[top:bottom, left:right]
    share = cover / len(pixels)
    patch[:] = np.clip(np.round(patch * (1 - share) + colour / len(pixels)), 0, 255).astype(np.uint8)


def sphere_colour(u: Array, v: Array, distance: Array, turn_rad: float) -> Array:
    """Colour (H, W, 3) of a lit panelled sphere at disc coordinates u, v (H, W)."""
    shrink = 1 / np.maximum(distance, 1.0)
    x, y = u * shrink, v * shrink
    z = -np.sqrt(np.clip(1 - x**2 - y**2, 0, 1))
    lit = np.clip(x * LIGHT[0] + y * LIGHT[1] + z * LIGHT[2], 0, 1)
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    y, z = c * y - s * z, s * y + c * z
    face = np.argmax(np.abs(np.stack([x, y, z])), axis=0)
    band = np.where(face == 0, y, np.where(face == 1, z, x))
    panel = (face + (band > 0.22) + 2 * (band < -0.22)) % 3
    seam = np.where(np.abs(np.abs(band) - 0.22) < 0.04, 0.86, 1.0)
    return np.asarray(PANELS[panel] * ((0.56 + 0.60 * lit) * seam)[..., None])
