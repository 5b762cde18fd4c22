"""Renders whole photos that no training has seen, with their labels, to calibrate and test the reader's confidence.

    python held_out.py FOLDER --count 3000 --seed 900000

Writes FOLDER/NNNNN.jpg and FOLDER/manifest.jsonl. An empty reading means that there is nothing to read.
"""

import argparse
import json
import multiprocessing as mp
import os

import cv2
import numpy as np

import face
import samples
import scene


def mass(main):
    """Returns the unit that is to be told: that of a mass whose mark can be seen on the first line."""
    unit = main[0].unit if main and main[0].marks else None
    return unit if unit in face.MASS_UNITS else None


def make(job):
    folder, seed, i, nothing = job
    cv2.setNumThreads(1)
    rng = np.random.default_rng([seed, i])
    w, h = ((640, 480), (480, 640), (800, 600), (508, 382))[int(rng.integers(4))]
    dp = float(np.exp(rng.uniform(np.log(13), np.log(90))))
    empty = rng.random() < nothing
    im, rows = scene.scene(rng, w, h, dp, empty=empty, hard=0.9)
    main = [r for r in rows if r.primary]
    if any(not samples.inside(r.quad, w, h, 1) for r in main):
        return None
    name = f"{i:05d}.jpg"
    cv2.imwrite(os.path.join(folder, name), im, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return {"image": name, "reading": "/".join(r.text for r in main), "unit": mass(main), "kind": "rendered",
            "full_photo": True}


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("folder")
    p.add_argument("--count", type=int, default=3000)
    p.add_argument("--seed", type=int, default=900_000)
    p.add_argument("--empty", type=float, default=0.06, help="share of photos without a display")
    p.add_argument("--processes", type=int)
    args = p.parse_args()
    os.makedirs(args.folder, exist_ok=True)
    with mp.Pool(args.processes) as pool:
        made = pool.map(make, [(args.folder, args.seed, i, args.empty) for i in range(args.count)], chunksize=16)
    with open(os.path.join(args.folder, "manifest.jsonl"), "w") as f:
        for m in filter(None, made):
            f.write(json.dumps(m) + "\n")


if __name__ == "__main__":
    main()
