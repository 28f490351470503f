"""The empty hall as the camera sees it: floor, lines, walls, mats, and the net as a layer with transparency."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_clips.lens import Camera

Image = NDArray[np.float32]

HALF_WIDTH_M, NEAR_Y_M, FAR_Y_M, CEILING_M = 11.5, -18.0, 16.5, 8.5
SAMPLES = 3
LAMPS_X_M = (-7.5, -2.5, 2.5, 7.5)


def noise_sheet(seed: int, size: int, blur_x: float, blur_y: float) -> Image:
    """Smooth noise (size, size) with mean 0 and deviation 1, for lookups that wrap around."""
    sheet = np.random.default_rng(seed).normal(size=(size, size)).astype(np.float32)
    middle = slice(size // 2, size // 2 + size)
    smooth = np.asarray(cv2.GaussianBlur(np.tile(sheet, (2, 2)), (0, 0), blur_x, sigmaY=blur_y))[middle, middle]
    return np.asarray(smooth / smooth.std(), dtype=np.float32)


GRAIN = noise_sheet(11, 512, 0.8, 14.0)
CLOUD = noise_sheet(12, 512, 24.0, 24.0)
TONE = noise_sheet(13, 512, 0.01, 0.01)


def look_up(sheet: Image, column: Image, row: Image) -> Image:
    """Nearest values of a wrapping noise sheet."""
    return np.asarray(sheet[row.astype(np.int64) & 511, column.astype(np.int64) & 511])


def mix(colour: Image, share: Image, other: tuple[float, float, float]) -> Image:
    """Colours (..., 3) with a share (...) of another colour painted over."""
    return colour + share[..., None] * (np.array(other, dtype=np.float32) - colour)


def strip(along: Image, low: float, high: float) -> Image:
    """1 where low <= along <= high, else 0."""
    return ((along >= low) & (along <= high)).astype(np.float32)


def court_paint(x: Image, y: Image) -> Image:
    """1 on the volleyball lines (5 cm wide, inside the court's measures), else 0."""
    across, away = np.abs(x), np.abs(y)
    inside = strip(across, 0.0, 4.5) * strip(away, 0.0, 9.0)
    side = strip(across, 4.45, 4.5) * inside
    lateral = strip(away, 8.95, 9.0) + strip(away, 2.95, 3.0) + strip(away, 0.0, 0.025)
    dashes = strip(away, 2.95, 3.0) * strip(across, 4.7, 6.25) * ((across - 4.7) % 0.35 < 0.15)
    service = strip(away, 9.2, 9.35) * strip(across, 4.45, 4.5)
    return np.asarray(np.minimum(side + lateral * inside + dashes + service, 1.0).astype(np.float32))


def basketball_paint(x: Image, y: Image) -> Image:
    """1 on the basketball lines (28 x 15 m), else 0."""
    across, away = np.abs(x), np.abs(y)
    edge = strip(across, 7.45, 7.5) * strip(away, 0.0, 14.0) + strip(away, 13.95, 14.0) * strip(across, 0.0, 7.5)
    worker = strip(across, 2.4, 2.45) * strip(away, 8.2, 14.0) + strip(away, 8.2, 8.25) * strip(across, 0.0, 2.45)
    arc = strip(np.hypot(across, away - 12.425), 6.70, 6.75) * strip(away, 0.0, 12.425 + 1.4)
    circle = strip(np.hypot(x, y), 1.75, 1.8) + strip(np.hypot(across, away - 8.2), 1.75, 1.8) * strip(away, 0.0, 8.2)
    return np.asarray(np.minimum(edge + worker + arc + circle, 1.0).astype(np.float32))


def floor_colour(x: Image, y: Image, mats: tuple[tuple[float, float, float, float], ...]) -> Image:
    """Varnished boards along y, with the lines of two sports and the mats that lie on end a."""
    board = np.floor(x / 0.085 + 400)
    plank = np.floor(y / 1.7 + 40 + 0.61 * look_up(TONE, board, board * 0 + 7))
    tone = look_up(TONE, board * 3, plank * 5)
    grain = look_up(GRAIN, x * 180 + 60000 + plank * 37, y * 70 + 60000)
    colour = np.array([196.0, 152.0, 104.0], dtype=np.float32) * (1 + 0.045 * tone + 0.035 * grain)[..., None]
    colour *= (1 + 0.02 * look_up(CLOUD, x * 20 + 9000, y * 20 + 9000))[..., None]
    colour = mix(colour, 0.35 * strip((x / 0.085 + 400) % 1, 0.0, 0.05), (90.0, 62.0, 40.0))
    colour = mix(colour, 0.50 * basketball_paint(x, y), (60.0, 92.0, 120.0))
    colour = mix(colour, court_paint(x, y) * (0.93 + 0.03 * grain), (244.0, 244.0, 240.0))
    for half_x, half_y, width, depth in mats:
        dx, dy = np.abs(x - (4.5 - half_x)), np.abs(y + half_y)
        whole = strip(dx, 0.0, width / 2) * strip(dy, 0.0, depth / 2)
        inner = strip(dx, 0.0, width / 2 - 0.06) * strip(dy, 0.0, depth / 2 - 0.06)
        colour = mix(mix(colour, whole, (24.0, 74.0, 120.0)), inner, (44.0, 112.0, 166.0))
    return colour


def wall_colour(along: Image, height: Image, is_end: Image, daylight: float) -> Image:
    """Panelling below, plaster above, wall bars on the sides, windows and a backboard on the end wall."""
    colour = np.full((*along.shape, 3), (206.0, 202.0, 190.0), dtype=np.float32)
    colour = mix(colour, strip(height, 0.0, 2.1), (120.0, 138.0, 146.0))
    panel = (along % 2.4 < 0.04) * strip(height, 0.0, 2.1) + strip(height, 2.06, 2.12)
    colour = mix(colour, 0.6 * np.minimum(panel, 1), (70.0, 84.0, 92.0))
    bars = strip(height, 0.1, 2.8) * (along % 6.0 < 3.6) * (1 - is_end)
    rungs = ((height % 0.18 < 0.05) | (along % 0.9 < 0.07)).astype(np.float32)
    colour = mix(colour, 0.75 * bars * rungs, (176.0, 132.0, 86.0))
    window = strip(height, 5.2, 7.4) * (along % 2.6 > 0.3) * (1 - (np.abs(height - 6.3) < 0.05))
    sky = tuple(daylight * np.array([226.0, 236.0, 246.0]) + (1 - daylight) * np.array([40.0, 46.0, 60.0]))
    colour = mix(colour, window * is_end, sky)
    board = is_end * strip(np.abs(along), 0.0, 0.9) * strip(height, 2.9, 3.95)
    colour = mix(colour, board, (238.0, 238.0, 236.0))
    square = np.maximum(np.abs(along) / 0.295, np.abs(height - 3.28) / 0.225)
    colour = mix(colour, board * strip(square, 0.85, 1.0), (180.0, 40.0, 36.0))
    ring = is_end * strip(np.abs(along), 0.0, 0.23) * strip(height, 3.03, 3.08)
    colour = mix(colour, ring, (206.0, 92.0, 30.0))
    door = is_end * strip(np.abs(along - 6.5), 0.0, 1.0) * strip(height, 0.0, 2.2)
    colour = mix(colour, door, (96.0, 66.0, 52.0))
    clock = is_end * strip(np.abs(along + 5.5), 0.0, 1.3) * strip(height, 3.0, 3.9)
    return mix(colour, clock, (34.0, 36.0, 40.0))


def hall_colour(start: Image, ray: Image, daylight: float) -> Image:
    """Colours of walls and ceiling along rays (H, W, 3) from starts (H, W, 3) or (3,) inside the hall."""
    with np.errstate(divide="ignore", invalid="ignore"):
        to_side = (np.sign(ray[..., 0]) * HALF_WIDTH_M - start[..., 0]) / ray[..., 0]
        to_end = (np.where(ray[..., 1] > 0, FAR_Y_M, NEAR_Y_M) - start[..., 1]) / ray[..., 1]
        to_roof = np.where(ray[..., 2] > 0, (CEILING_M - start[..., 2]) / ray[..., 2], np.inf)
    reach = np.minimum(np.minimum(to_side, to_end), to_roof)
    place = start + ray * reach[..., None]
    is_end = (to_end <= to_side).astype(np.float32)
    along = np.where(is_end > 0, place[..., 0], place[..., 1]).astype(np.float32)
    colour = wall_colour(along, place[..., 2].astype(np.float32), is_end, daylight)
    shade = (0.78 + 0.045 * place[..., 2] - 0.10 * (1 - is_end) - 0.006 * np.abs(along)).astype(np.float32)
    roof = np.stack([np.full_like(along, 128.0)] * 3, axis=-1)
    lamp = np.zeros_like(along)
    for lamp_x in LAMPS_X_M:
        lamp = np.maximum(lamp, strip(np.abs(place[..., 0] - lamp_x), 0.0, 0.22) * (place[..., 1] % 4.0 < 2.4))
    roof = mix(roof, lamp, (255.0, 252.0, 240.0))
    return np.where((to_roof <= reach)[..., None], roof, colour * shade[..., None]).astype(np.float32)


def lamp_glow(x: NDArray[np.floating], y: NDArray[np.floating]) -> Image:
    """How much of a lamp row a softly polished floor mirrors where its mirror ray meets the ceiling at (x, y)."""
    rows = sum(np.exp(-(((x - lamp_x) / 0.75) ** 2)) for lamp_x in LAMPS_X_M)
    return np.asarray(rows * (0.75 + 0.25 * np.cos(np.pi * y / 2.0)) * (np.abs(y) < 17), dtype=np.float32)


def empty_hall(
    camera: Camera, mats: tuple[tuple[float, float, float, float], ...], daylight: float
) -> NDArray[np.uint8]:
    """The static background (height, width, 3) RGB, sampled SAMPLES x SAMPLES per pixel."""
    width, height = camera.size
    picture = np.empty((height, width, 3), dtype=np.float32)
    columns = (np.arange(width * SAMPLES) + 0.5) / SAMPLES - 0.5
    for top in range(0, height, 60):
        rows = top + (np.arange(60 * SAMPLES) + 0.5) / SAMPLES - 0.5
        ray = camera.rays(columns, rows).astype(np.float32)
        start = camera.position.astype(np.float32)
        band = hall_colour(start, ray, daylight)
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = -start[2] / ray[..., 2]
            place = start + ray * reach[..., None]
        on_floor = (
            (reach > 0)
            & (np.abs(place[..., 0]) < HALF_WIDTH_M)
            & (place[..., 1] < FAR_Y_M)
            & (place[..., 1] > NEAR_Y_M)
        )
        if on_floor.any():
            place = np.where(on_floor[..., None], place, 0.0).astype(np.float32)
            floor = floor_colour(place[..., 0], place[..., 1], mats)
            up = ray * np.array([1.0, 1.0, -1.0], dtype=np.float32)
            slope = np.abs(ray[..., 2]) / np.linalg.norm(ray, axis=-1)
            fresnel = 0.04 + 0.5 * (1 - slope) ** 5
            rise = CEILING_M / np.maximum(up[..., 2], 1e-3)
            glow = lamp_glow(place[..., 0] + up[..., 0] * rise, place[..., 1] + up[..., 1] * rise)
            floor = floor * 0.97 + fresnel[..., None] * (hall_colour(place, up, daylight) - 0.6 * floor)
            floor += (70.0 * glow * fresnel + 9.0 * glow)[..., None]
            band = np.where(on_floor[..., None], floor, band)
        picture[top : top + 60] = cv2.resize(band, (width, 60), interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(picture, (0, 0), 0.45)
    return np.asarray(np.clip(soft * (0.92 + 0.08 * daylight), 0, 255), dtype=np.uint8)


def net_layer(camera: Camera, net_height_m: float) -> tuple[Image, Image]:
    """Net, antennas and posts as colour (height, width, 3) and opacity (height, width, 1)."""
    width, height = camera.size
    samples = 4
    colour = np.zeros((height, width, 3), dtype=np.float32)
    opacity = np.zeros((height, width, 1), dtype=np.float32)
    columns = (np.arange(width * samples) + 0.5) / samples - 0.5
    for top in range(0, height, 60):
        rows = top + (np.arange(60 * samples) + 0.5) / samples - 0.5
        ray = camera.rays(columns, rows).astype(np.float32)
        reach = -np.float32(camera.position[1]) / ray[..., 1]
        x = np.where(reach > 0, camera.position[0] + ray[..., 0] * reach, 99.0).astype(np.float32)
        z = (camera.position[2] + ray[..., 2] * reach).astype(np.float32)
        below = net_height_m - z
        net = strip(np.abs(x), 0.0, 4.85) * strip(below, 0.0, 1.0)
        mesh = 0.8 * net * ((np.abs((x + 50) % 0.1 - 0.05) > 0.046) | (np.abs(below % 0.1 - 0.05) > 0.046))
        tape = net * np.maximum(strip(below, 0.0, 0.07), strip(below, 0.95, 1.0))
        side = net * strip(np.abs(x), 4.45, 4.5)
        antenna = strip(np.abs(x), 4.5, 4.52) * strip(z, net_height_m - 1.0, net_height_m + 0.8)
        post = strip(np.abs(x), 5.3, 5.4) * strip(z, 0.0, 2.55) + strip(np.abs(x), 4.85, 5.3) * strip(below, 0.02, 0.05)
        paint = np.full((*x.shape, 3), 40.0, dtype=np.float32)
        paint = mix(paint, post, (58.0, 74.0, 104.0))
        paint = mix(paint, np.maximum(tape, side), (236.0, 236.0, 232.0))
        red = antenna * (np.floor((z + 10) / 0.1) % 2)
        paint = mix(mix(paint, antenna, (240.0, 240.0, 236.0)), red, (204.0, 32.0, 34.0))
        solid = np.maximum(np.maximum(mesh, tape), np.maximum(np.maximum(side, antenna), post))
        alpha = cv2.resize(solid, (width, 60), interpolation=cv2.INTER_AREA)
        tinted = cv2.resize(paint * solid[..., None], (width, 60), interpolation=cv2.INTER_AREA)
        opacity[top : top + 60, :, 0] = alpha
        colour[top : top + 60] = tinted / np.maximum(alpha, 1e-4)[..., None]
    return colour, opacity
