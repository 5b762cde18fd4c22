"""From rendered pictures to what the three networks are trained on: tiles, strips and unit crops.

The geometry here is the contract with the Rust reader (`display/src/read.rs`): a row is (middle, direction,
half width, half height); a strip is 64 pixels high with the digits 39 of them; a unit crop is 144 by 384.
"""

import cv2
import numpy as np

import face
import scene

TILE = 384
STRIP_H, STRIP_W, DIGIT = 64, 352, 39.0
MARGIN = 0.45           # on each side of a strip, in digit heights
UNIT_H, UNIT_W = 144, 384
UNIT_X, UNIT_Y = 7.0, 3.6  # a unit crop's width beyond the row, and its whole height, in digit heights
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
    """Cuts the strip of a row: (64, 352, 3) and the width in use."""
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


def shown(row, r, w, h):
    """Returns the class of the unit mark that a row's unit crop shows, or None where that is doubtful."""
    if r.mark is None:
        return face.unit_class(r.unit)
    hw, hh = row[4:6]
    d = np.asarray(r.mark) - row[:2]
    along, across = d @ row[2:4], d[:, 1] * row[2] - d[:, 0] * row[3]
    x, y = np.abs(along) / (hw + UNIT_X * hh), np.abs(across) / (UNIT_Y * hh)
    out = np.maximum(np.maximum(x, y), np.abs(np.asarray(r.mark) / (w, h) - 0.5).max(1) * 2)
    if out.min() > 1:
        return 0
    tall = np.linalg.norm(r.mark[3] - r.mark[0])
    return face.unit_class(r.unit) if out.max() < 1 and tall > 3.5 and tall / hh * UNIT_H / UNIT_Y / 2 > 5 else None


def grown(rng, row):
    """Widens a row by a digit's room on one side, as the reader does when it looks for a digit left out."""
    r = row.copy()
    more = r[5] * rng.uniform(0.7, 2.6)
    side = 1 if rng.random() < 0.6 else -1
    r[:2] += side * more / 2 * r[2:4]
    r[4] += more / 2
    return r


def alone(p, row, rows):
    """Tells whether no other row stands on this one's line, where a wider strip would take it in."""
    for o in rows:
        q = row_of(o.quad)
        d = q[:2] - p[:2]
        if o is not row and abs(d[1] * p[2] - d[0] * p[3]) < p[5] + q[5] and abs(d @ p[2:4]) < p[4] + q[4] + 5 * p[5]:
            return False
    return True


def inside(q, w, h, slack):
    return q[:, 0].min() > -slack and q[:, 1].min() > -slack and q[:, 0].max() < w + slack and q[:, 1].max() < h + slack


def encode(text):
    return [ALPHABET.index(c) + 1 for c in text] if all(c in ALPHABET for c in text) else []


def picture(rng):
    """Renders one picture for the detector: (picture, rows) of any size up to a tile."""
    kind = face.pick(rng, {"whole": 74, "tight": 19, "empty": 7})
    dp = float(np.exp(rng.uniform(np.log(6.5), np.log(50))))
    if kind == "empty":
        return scene.scene(rng, TILE, TILE, dp, empty=True)
    if kind == "whole":
        return scene.scene(rng, TILE, TILE, dp)
    dp = float(np.exp(rng.uniform(np.log(14), np.log(90))))
    return scene.scene(rng, TILE, TILE, dp, plain=rng.random() < 0.75, roll=rng.normal(0, 0.07), tilt=0.12, fit=True)


def close(rng):
    """Renders a close picture, for strips alone."""
    dp = float(np.exp(rng.uniform(np.log(11), np.log(62))))
    return scene.scene(rng, int(dp * rng.uniform(5.5, 9)), int(dp * rng.uniform(2.6, 4.6)), dp, roll=rng.normal(0, 0.12), tilt=0.2)


def rows_of(rows, w, h):
    """Returns the detector's truth: (ROWS, 8) of row, primary, state (0 none, 1 true, 2 look away)."""
    out = np.zeros((ROWS, 8), np.float32)
    for i, r in enumerate([r for r in rows if not r.printed][:ROWS]):
        p = row_of(r.quad)
        good = inside(r.quad, w, h, 0.4 * p[5]) and p[5] > 2.4
        out[i] = [*p, float(r.primary), 1 if good else 2]
    return out


def cuts(rng, im, rows, copies):
    """Yields (strip, width, classes, unit crop or None, unit class) of a picture's rows."""
    h, w = im.shape[:2]
    real = [r for r in rows if not r.printed]
    for r in real:
        p = row_of(r.quad)
        if p[5] < 4.0 or not inside(r.quad, w, h, 0.45 * p[5]):
            continue
        label = encode(r.text.replace(" ", ""))
        for c in range(copies):
            q = jitter(rng, p)
            if rng.random() < 0.2 and alone(p, r, real):
                q = grown(rng, q)
            s, n = strip(im, q)
            u = None
            if c == 0 and p[5] > 5 and (r.primary or rng.random() < 0.8):
                q = jitter(rng, p, 0.7)
                u, unit = unit_crop(im, q), shown(q, r, w, h)
                if unit is None:
                    u, unit = None, 0
            yield s, n, label, u, unit if u is not None else 0
    for r in rows:
        # A printed word: nothing to read.
        p = row_of(r.quad)
        if r.printed and p[5] > 4 and rng.random() < 0.15 and inside(r.quad, w, h, 0):
            s, n = strip(im, jitter(rng, p))
            yield s, n, [], None, 0
    if rng.random() < 0.12:
        # Somewhere where no digits stand: nothing to read.
        for _ in range(4):
            p = np.array([rng.uniform(0, w), rng.uniform(0, h), 1, 0, rng.uniform(8, 60), rng.uniform(5, 20)])
            if all(abs(p[0] - q[0]) > p[4] + q[4] + 6 or abs(p[1] - q[1]) > p[5] + q[4] + 6 for q in (row_of(r.quad) for r in real)):
                s, n = strip(im, p)
                yield s, n, [], None, 0
                break
