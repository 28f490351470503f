"""Simple figures: joints in the hall, drawn as shaded rounded limbs, with soft shadows on the floor."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_clips.flight import Array
from sample_clips.lens import Camera

Picture = NDArray[np.uint8]
Colour = tuple[int, int, int]

ROUND = np.stack([np.cos(np.linspace(0, 2 * np.pi, 15)[:-1]), np.sin(np.linspace(0, 2 * np.pi, 15)[:-1])], axis=1)
SHIRT, TRIM, SHORTS, SHOE, SOCK = (24, 92, 98), (240, 240, 236), (28, 32, 44), (226, 226, 230), (214, 214, 216)
LIGHTS = ((1.0, 0.0, 0.62), (0.82, 0.10, 0.84), (0.52, 0.22, 1.02))
COACH_SHIRT: Colour = (120, 44, 52)
LAMP_SLANT = np.array([0.22, 0.30])


@dataclass(frozen=True)
class Look:
    """How a figure is built and dressed."""

    height_m: float
    skin: Colour
    hair: Colour
    shirt: Colour = SHIRT
    number: int | None = None


@dataclass(frozen=True)
class Pose:
    """A figure's stance: feet point, lift off the floor, facing (+1 towards +y, -1 towards -y), bends and hands.

    ``left`` and ``right`` are hands relative to their shoulder (forward, outward, up) [m at 1.75 m body height].
    """

    x_m: float
    y_m: float
    facing: float
    left: tuple[float, float, float] = (0.06, 0.07, -0.60)
    right: tuple[float, float, float] = (0.06, 0.07, -0.60)
    lift_m: float = 0.0
    crouch_m: float = 0.0
    lean: float = 0.03
    stride: float = 0.0


@dataclass(frozen=True)
class Part:
    """One limb: centres (N, 3) with radii (N,) [m] in one rounded outline; legs 0, shorts 1, body 2, crown 3."""

    centres: Array
    radii: Array
    colour: Colour
    layer: int = 2


def figure(look: Look, pose: Pose) -> list[Part]:
    """The limbs of a figure, unsorted."""
    s = look.height_m / 1.75
    base = np.array([pose.x_m, pose.y_m, pose.lift_m])
    forward = np.array([0.0, pose.facing, 0.0])
    right = np.array([pose.facing, 0.0, 0.0])
    up = np.array([0.0, 0.0, 1.0])
    hip = base + up * (0.92 * s - pose.crouch_m) - forward * 0.45 * pose.crouch_m
    spine = up * np.cos(pose.lean) + forward * np.sin(pose.lean)
    chest = hip + spine * 0.50 * s
    parts = []
    for side in (-1.0, 1.0):
        hip_joint = hip + right * side * 0.09 * s
        ankle = base + right * side * 0.13 * s + forward * side * pose.stride + up * 0.08 * s
        knee = (hip_joint + ankle) / 2 + forward * (0.05 + 0.75 * pose.crouch_m) * s
        shoulder = chest + right * side * 0.18 * s
        reach = np.array(pose.right if side > 0 else pose.left) * s
        hand = shoulder + forward * reach[0] + right * side * reach[1] + up * reach[2]
        slack = float(np.sqrt(max(0.0, 0.33**2 - (float(np.linalg.norm(reach)) / s / 2) ** 2))) * s
        elbow = (shoulder + hand) / 2 + (0.6 * right * side - 0.5 * up - 0.3 * forward) * slack
        parts += [
            limb(hip_joint, knee, 0.085 * s, 0.060 * s, look.skin, 0),
            limb(hip_joint, hip_joint + 0.45 * (knee - hip_joint), 0.098 * s, 0.088 * s, SHORTS, 1),
            limb(knee, ankle, 0.058 * s, 0.040 * s, look.skin, 0),
            limb(ankle + up * 0.14 * s, ankle, 0.047 * s, 0.044 * s, SOCK, 0),
            limb(ankle - up * 0.03, ankle + forward * 0.13 * s - up * 0.045, 0.045 * s, 0.035 * s, SHOE, 0),
            limb(shoulder, elbow, 0.052 * s, 0.042 * s, look.skin),
            limb(shoulder, shoulder + 0.4 * (elbow - shoulder), 0.068 * s, 0.062 * s, look.shirt),
            limb(elbow, hand, 0.040 * s, 0.034 * s, look.skin),
        ]
    corners = [hip - right * 0.09 * s, hip + right * 0.09 * s, chest - right * 0.15 * s, chest + right * 0.15 * s]
    parts.append(Part(np.array(corners), np.array([0.10, 0.10, 0.075, 0.075]) * s, look.shirt))
    head = chest + spine * 0.235 * s + forward * 0.02
    parts.append(limb(chest + spine * 0.08 * s, head, 0.05 * s, 0.05 * s, look.skin))
    parts.append(limb(head - up * 0.03 * s, head + up * 0.03 * s, 0.085 * s, 0.095 * s, look.skin))
    parts.append(
        limb(head + up * 0.045 * s - forward * 0.035 * s, head - forward * 0.05 * s, 0.092 * s, 0.08 * s, look.hair)
    )
    parts.append(
        limb(head - forward * 0.13 * s, head - forward * 0.15 * s - up * 0.16 * s, 0.035 * s, 0.025 * s, look.hair)
    )
    crown = head + up * 0.075 * s
    parts.append(limb(crown + right * 0.022, crown - right * 0.022, 0.066 * s, 0.066 * s, look.hair, 3))
    return parts


def limb(start: Array, end: Array, start_radius: float, end_radius: float, colour: Colour, layer: int = 2) -> Part:
    """A tapered limb between two joints."""
    return Part(np.array([start, end]), np.array([start_radius, end_radius]), colour, layer)


def fill(picture: Picture, polygon_px: Array, colour: tuple[float, ...]) -> None:
    """Fill a convex polygon (N, 2) with soft edges, exact to 1/16 px."""
    cv2.fillConvexPoly(picture, np.round(polygon_px * 16).astype(np.int32), colour, cv2.LINE_AA, 4)


def draw_figure(picture: Picture, camera: Camera, look: Look, pose: Pose) -> None:
    """Paint a figure, far limbs first, each with a lit upper left and a dark lower right."""
    parts = figure(look, pose)
    seen = camera.depths_and_rays(np.concatenate([part.centres for part in parts]))
    if seen[:, 2].min() < 0.5:
        return
    pixels = seen[:, :2] / seen[:, 2:]
    radii = np.concatenate([part.radii for part in parts]) * camera.matrix[0, 0] / seen[:, 2]
    ends = np.cumsum([len(part.radii) for part in parts])
    spans = [slice(end - len(part.radii), end) for part, end in zip(parts, ends, strict=True)]
    outlines = []
    for scale, shift, light in LIGHTS:
        moved = pixels - radii[:, None] * shift
        rims = (moved[:, None, :] + scale * radii[:, None, None] * ROUND).astype(np.float32)
        outlines.append((rims, light))
    order = sorted(range(len(parts)), key=lambda k: (parts[k].layer, -float(seen[spans[k], 2].mean())))
    for k in order:
        red, green, blue = parts[k].colour
        for rims, light in outlines:
            hull = cv2.convexHull(rims[spans[k]].reshape(-1, 2))
            fill(picture, np.asarray(hull).reshape(-1, 2), (light * red, light * green, light * blue))
        if parts[k].colour == look.shirt and len(parts[k].radii) == 4 and look.number is not None:
            draw_number(picture, pixels[spans[k]], look.number)


def draw_number(picture: Picture, pixels: Array, number: int) -> None:
    """The shirt number on the chest or back."""
    text, size = str(number), float(np.ptp(pixels[:, 1])) * 0.50
    scale, heavy = size / 22.0, max(1, round(size / 9))
    (wide, high), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, heavy)
    centre = pixels.mean(axis=0) - np.array([wide / 2, size * 0.10 - high / 2])
    place = (round(centre[0]), round(centre[1]))
    cv2.putText(picture, text, place, cv2.FONT_HERSHEY_SIMPLEX, scale, TRIM, heavy, cv2.LINE_AA)


def shade(picture: Picture, camera: Camera, rounds: list[tuple[Array, Array]], blur_px: float, strength: float) -> None:
    """Darken the floor under soft shadows: each item holds floor centres (N, 2) and radii (N,) [m]."""
    rims = [(centres[:, None, :] + radii[:, None, None] * ROUND).reshape(-1, 2) for centres, radii in rounds]
    every_m = np.concatenate(rims)
    seen = camera.depths_and_rays(np.column_stack([every_m, np.zeros(len(every_m))]))
    if seen[:, 2].min() < 0.8:
        return
    every = seen[:, :2] / seen[:, 2:]
    ends = np.cumsum([len(rim) for rim in rims])
    pieces = np.split(every.astype(np.float32), ends[:-1])
    polygons = [np.asarray(cv2.convexHull(piece)).reshape(-1, 2) for piece in pieces]
    margin = 3 * blur_px + 2
    left, top = np.maximum(np.floor(every.min(axis=0) - margin), 0).astype(int)
    right, bottom = np.minimum(np.ceil(every.max(axis=0) + margin), camera.size).astype(int)
    if right - left < 2 or bottom - top < 2:
        return
    mask = np.zeros((bottom - top, right - left), dtype=np.uint8)
    for polygon in polygons:
        fill(mask, polygon - [left, top], (255.0,))
    dark = 1.0 - strength / 255.0 * cv2.GaussianBlur(mask, (0, 0), blur_px).astype(np.float32)
    patch = picture[top:bottom, left:right]
    patch[:] = np.round(patch * dark[..., None]).astype(np.uint8)


def figure_shadow(picture: Picture, camera: Camera, look: Look, pose: Pose) -> None:
    """The shadow of a figure under slanting lamps, and the dark spot at its feet."""
    rounds = [(part.centres[:, :2] + part.centres[:, 2:] * LAMP_SLANT, part.radii) for part in figure(look, pose)]
    near = max(1.0, camera.matrix[0, 0] * 0.06 / camera.depth_m(np.array([pose.x_m, pose.y_m, 0.0])))
    shade(picture, camera, rounds, near, 0.22)
    spot = 0.26 / (1 + 1.5 * pose.lift_m)
    shade(picture, camera, [(np.array([[pose.x_m, pose.y_m]]), np.array([0.24]))], near * 1.3, spot)
