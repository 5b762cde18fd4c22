"""Fits the reader's confidence to how often it is right, on rendered photos held out (`held_out.py`).

    cargo run --release -p display --example score -- FOLDER/manifest.jsonl --all --csv scores.csv
    python calibrate.py scores.csv --was 0 1

`--was` gives the offset and slope built in when the photos were scored (`CALIBRATION` in `display/src/read.rs`); they
are taken out first. Prints the new pair and, by confidence, how many were right.
"""

import argparse

import numpy as np


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("scores")
    p.add_argument("--was", type=float, nargs=2, default=(0.0, 1.0))
    args = p.parse_args()
    rows = [line.split(",") for line in open(args.scores)]
    seen = np.array([(float(r[3]), r[4] == "true") for r in rows if r[2]])
    c = np.clip(seen[:, 0], 1e-3, 1 - 1e-3)
    right = seen[:, 1]
    odds = (np.log(c / (1 - c)) - args.was[0]) / args.was[1]
    a = np.stack([np.ones_like(odds), odds], 1)
    b = np.array([0.0, 1.0])
    for _ in range(50):
        q = 1 / (1 + np.exp(-a @ b))
        b += np.linalg.solve((a * (q * (1 - q))[:, None]).T @ a + 0.01 * np.eye(2), a.T @ (right - q) - 0.01 * (b - (0, 1)))
    fitted = 1 / (1 + np.exp(-a @ b))
    print(f"{len(right)} readings, {right.mean():.3f} right; offset {b[0]:.3f}, slope {b[1]:.3f}")
    for lo, hi in zip((0, 0.2, 0.5, 0.7, 0.8, 0.9, 0.95), (0.2, 0.5, 0.7, 0.8, 0.9, 0.95, 1.01)):
        k = (fitted >= lo) & (fitted < hi)
        if k.any():
            print(f"{lo:.2f} to {min(hi, 1):.2f}: {int(right[k].sum())} of {int(k.sum())}, mean said {fitted[k].mean():.3f}")


if __name__ == "__main__":
    main()
