#!/usr/bin/env python3
"""Makes the first inputs of the fuzz targets from the samples and the notes, and a dictionary from the lexicon.

    python3 fuzz/seeds.py FOLDER

Needs ffmpeg and exiftool. FOLDER/photo, sound, extract and json_lines are what libFuzzer starts from; FOLDER/extract.dict
holds the words of the trade.
"""

import json
import random
import re
import subprocess
import sys
from pathlib import Path

HOME = Path(__file__).resolve().parent.parent
KEPT = ("id", "text", "at", "birds", "current_bird", "units")


def run(*words):
    subprocess.run([str(w) for w in words], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def photos(out):
    for photo in sorted((HOME / "samples/photos").glob("*.jpg")):
        for kind in ("jpg", "png", "webp", "tif", "bmp", "gif"):
            small = out / f"{photo.stem}.{kind}"
            run("ffmpeg", "-y", "-i", photo, "-vf", "scale=64:-1", small)
            if kind in ("jpg", "png", "webp", "tif"):
                run("exiftool", "-overwrite_original", "-TagsFromFile", photo, "-all:all", small)


def sounds(out):
    for note in sorted((HOME / "samples/notes").iterdir())[:3]:
        for kind in ("wav", "ogg", "m4a", "flac", "mp3", "webm"):
            run("ffmpeg", "-y", "-i", note, "-t", "0.4", "-ar", "16000", "-ac", "1", out / f"{note.stem}.{kind}")


def notes(texts, lines):
    chance = random.Random(1)
    for corpus in sorted((HOME / "extract/corpus/notes").glob("*.jsonl")):
        for n, line in enumerate(corpus.read_text().splitlines()):
            note = json.loads(line)
            name = f"{corpus.stem}-{n}"
            if chance.random() < 0.35:
                (texts / name).write_bytes(bytes([chance.randrange(256)]) + note["text"].encode())
            if chance.random() < 0.1:
                kept = {field: note[field] for field in KEPT if field in note}
                (lines / name).write_text(json.dumps(kept) + "\n")


def words(out):
    found = set()
    for lexicon in (HOME / "extract/lexicon").glob("*.toml"):
        found.update(re.findall(r'"([a-z0-9 \'-]{3,28})"', lexicon.read_text()))
    out.write_text("".join(f'" {word}"\n' for word in sorted(found)))


def main():
    folder = Path(sys.argv[1])
    for target in ("photo", "sound", "extract", "json_lines"):
        (folder / target).mkdir(parents=True, exist_ok=True)
    photos(folder / "photo")
    sounds(folder / "sound")
    notes(folder / "extract", folder / "json_lines")
    words(folder / "extract.dict")


if __name__ == "__main__":
    main()
