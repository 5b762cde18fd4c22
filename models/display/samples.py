"""From rendered pictures to what the three networks are trained on: tiles, strips and unit crops.

The geometry here is the contract with the Rust reader (`display/src/crop.rs`): a row is (middle, direction,
half width, half height); a strip is 48 pixels high with the digits 29 of them; a unit crop is 128 by 352.
"""

import cv2
import numpy as np

import face
import scene

TILE = 384
STRIP_H, STRIP_W, DIGIT = 48, 256, 29.0
MARGIN = 0.45           # on each side of a strip, in digit heights
UNIT_H, UNIT_W = 128, 352
UNIT_X, UNIT_Y = 5.6, 3.2  # a unit crop's width beyond the row, and its whole height, in digit heights
ROWS = 8
ALPHABET = "0123456789.:-"  # class 0 is the blank


def row_of(quad):
    """Returns (cx, cy, ux, uy, half width, half height) of a quadrangle."""
    q = np.asarray(quad, np.float64)
    u = (q[1] + q[2]) - (q[0] + q[3])
    u = u / max(1e-6, np.linalg.norm(u))
    v = np.array([-u[1], u[0]])
    c = q.mean(0)
    hw = ((q[1] + q[2] - q[0] - q[3]) @ u) / 4
    hh = ((q[2] + q[3] - q[0] - q[1]) @ v) / 4
    return np.array([c[0], c[1], u[0], u[1], max(hw, 0.5), max(hh, 0.5)])


def sample(im, row, sx, sy, w, h):
    """Samples a turned window about a row's middle: `sx`, `sy` source pixels a pixel."""
    cx, cy, ux, uy = row[:4]
    level = max(0, int(np.floor(np.log2(max(1e-6, min(sx, sy))))))
    k = 2.0 ** level
    if level:
        im = cv2.resize(im, (max(1, int(im.shape[1] / k)), max(1, int(im.shape[0] / k))), interpolation=cv2.INTER_AREA)
    # From the window's pixel centres to the source's.
    a = np.array([[ux * sx, -uy * sy, cx - ux * sx * (w / 2 - 0.5) + uy * sy * (h / 2 - 0.5)],
                  [uy * sx, ux * sy, cy - uy * sx * (w / 2 - 0.5) - ux * sy * (h / 2 - 0.5)]]) / k
    a[:, 2] -= 0.5
    return cv2.warpAffine(im, a, (w, h), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE)


def strip(im, row):
    """Cuts the strip of a row: (48, 256, 3) and the width in use."""
    hw, hh = row[4:6]
    s = 2 * hh / DIGIT
    want = (2 * hw + 2 * MARGIN * 2 * hh)
    w = int(min(STRIP_W, max(16, np.ceil(want / s))))
    out = np.zeros((STRIP_H, STRIP_W, 3), np.uint8)
    out[:, :w] = sample(im, row, want / w, s, w, STRIP_H)
    return out, w


def unit_crop(im, row):
    """Cuts the neighbourhood of a row in which its unit mark may stand."""
    hw, hh = row[4:6]
    h = 2 * hh
    return sample(im, row, (2 * hw + UNIT_X * h) / UNIT_W, UNIT_Y * h / UNIT_H, UNIT_W, UNIT_H)


def jitter(rng, row, amount=1.0):
    """Moves a row as a detector's error would."""
    r = row.copy()
    h = 2 * r[5]
    a = rng.normal(0, 0.035) * amount
    u = np.array([np.cos(a) * r[2] - np.sin(a) * r[3], np.sin(a) * r[2] + np.cos(a) * r[3]])
    v = np.array([-u[1], u[0]])
    left, right = np.clip(rng.normal(0.02, 0.12, 2) * amount, -0.3, 0.45) * h
    c = r[:2] + u * (right - left) / 2 + v * h * np.clip(rng.normal(0, 0.06), -0.16, 0.16) * amount
    r[:2], r[2:4] = c, u
    r[4] = max(r[4] + (left + right) / 2, 0.1 * h)
    r[5] *= float(np.exp(np.clip(rng.normal(0.01, 0.085) * amount, -0.22, 0.25)))
    return r


def inside(q, w, h, slack):
    return q[:, 0].min() > -slack and q[:, 1].min() > -slack and q[:, 0].max() < w + slack and q[:, 1].max() < h + slack


def encode(text):
    return [ALPHABET.index(c) + 1 for c in text] if all(c in ALPHABET for c in text) else []


def picture(rng):
    """Renders one picture for the detector: (picture, rows) of any size up to a tile."""
    kind = face.pick(rng, {"whole": 78, "tight": 14, "empty": 8})
    dp = float(np.exp(rng.uniform(np.log(6.5), np.log(50))))
    if kind == "empty":
        return scene.scene(rng, TILE, TILE, dp, empty=True)
    if kind == "whole":
        return scene.scene(rng, TILE, TILE, dp)
    what = scene.lines(rng)
    chars = max(sum(len(i["text"]) * i.get("scale", 1) + 1 for i in line) for line in what)
    tall = sum(max(i.get("scale", 1) for i in line) * 1.35 for line in what)
    dp = float(np.exp(rng.uniform(np.log(14), np.log(60))))
    w = int(np.clip(dp * chars * 0.7 * rng.uniform(0.95, 1.7), 24, TILE))
    h = int(np.clip(dp * tall * rng.uniform(1.0, 1.9), 16, TILE))
    return scene.scene(rng, w, h, dp, what, plain=rng.random() < 0.75, roll=rng.normal(0, 0.07), tilt=0.12)


def close(rng):
    """Renders a close picture, for strips alone."""
    dp = float(np.exp(rng.uniform(np.log(11), np.log(62))))
    return scene.scene(rng, int(dp * rng.uniform(5.5, 9)), int(dp * rng.uniform(2.6, 4.6)), dp, roll=rng.normal(0, 0.12), tilt=0.2)


def rows_of(rows, w, h):
    """Returns the detector's truth: (ROWS, 8) of row, primary, state (0 none, 1 true, 2 look away)."""
    out = np.zeros((ROWS, 8), np.float32)
    for i, r in enumerate(rows[:ROWS]):
        p = row_of(r.quad)
        good = inside(r.quad, w, h, 0.3 * p[5]) and p[5] > 2.4
        out[i] = [*p, float(r.primary), 1 if good else 2]
    return out


def cuts(rng, im, rows, copies):
    """Yields (strip, width, classes, unit crop or None, unit class) of a picture's rows."""
    h, w = im.shape[:2]
    for r in rows:
        p = row_of(r.quad)
        if p[5] < 4.0 or not inside(r.quad, w, h, 0.45 * p[5]):
            continue
        label = encode(r.text)
        for c in range(copies):
            s, n = strip(im, jitter(rng, p))
            u = None
            unit = face.UNIT_CLASSES.index(r.unit) if r.unit in face.UNIT_CLASSES else 6
            if c == 0 and r.primary and p[5] > 5:
                u = unit_crop(im, jitter(rng, p, 0.7))
            yield s, n, label, u, unit
    if rng.random() < 0.12:
        # Somewhere where no digits stand: nothing to read.
        for _ in range(4):
            p = np.array([rng.uniform(0, w), rng.uniform(0, h), 1, 0, rng.uniform(8, 60), rng.uniform(5, 20)])
            if all(abs(p[0] - q[0]) > p[4] + q[4] + 6 or abs(p[1] - q[1]) > p[5] + q[4] + 6 for q in (row_of(r.quad) for r in rows)):
                s, n = strip(im, p)
                yield s, n, [], None, 0
                break
