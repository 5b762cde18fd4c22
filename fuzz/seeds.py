#!/usr/bin/env python3
"""Makes the first inputs of the fuzz targets from the samples and the notes, and a dictionary from the lexicon.

    python3 fuzz/seeds.py FOLDER

Needs ffmpeg and exiftool. Each folder in it holds what libFuzzer starts the target of that name from; FOLDER/extract.dict
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


def pixels(out):
    """A width of 255, then the rows: what `display` takes for a picture."""
    for photo in sorted((HOME / "samples/photos").glob("*.jpg")):
        raw = out / f"{photo.stem}.raw"
        run("ffmpeg", "-y", "-i", photo, "-vf", "scale=255:-1", "-pix_fmt", "rgb24", "-f", "rawvideo", raw)
        (out / photo.stem).write_bytes(bytes([255]) + raw.read_bytes())
        raw.unlink()


def waves(samples, spooled):
    for note in sorted((HOME / "samples/notes").iterdir())[:4]:
        wav = spooled / f"{note.stem}.wav"
        run("ffmpeg", "-y", "-i", note, "-t", "1.5", "-ar", "16000", "-ac", "1", "-fflags", "+bitexact", wav)
        (samples / note.stem).write_bytes(bytes([20]) + wav.read_bytes()[44:])


def tables(out):
    head = ["date", "bird", "weight", "food", "notes"]
    for n, (comma, mass) in enumerate([(",", "938"), (";", "938,5"), ("\t", "2 lb 1 oz"), (",", "33.1 oz")]):
        rows = [head, ["2026-03-14", "Sedge", f'"{mass}"', "2 chicks", "=1+1"], ["14/03/2026 08:10", "Rook", mass, "", ""]]
        (out / f"table-{n}").write_text("\r\n".join(comma.join(row) for row in rows))


def requests(out):
    for n, line in enumerate(["GET / HTTP/1.1", "GET /alive HTTP/1.1", "POST /pair HTTP/1.1", "HEAD /style.css HTTP/1.1"]):
        body = "a=1&b=%3Cb%3E" if line.startswith("POST") else ""
        kind = f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(body)}\r\n" if body else ""
        (out / f"request-{n}").write_text(f"\x01{line}\r\n{kind}\r\n{body}")


def main():
    folder = Path(sys.argv[1])
    for target in ("photo", "sound", "extract", "json_lines", "display", "segmenter", "spool", "table", "http"):
        (folder / target).mkdir(parents=True, exist_ok=True)
    photos(folder / "photo")
    sounds(folder / "sound")
    notes(folder / "extract", folder / "json_lines")
    pixels(folder / "display")
    waves(folder / "segmenter", folder / "spool")
    tables(folder / "table")
    requests(folder / "http")
    words(folder / "extract.dict")


if __name__ == "__main__":
    main()
