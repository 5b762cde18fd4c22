#!/usr/bin/env python3
"""Writes labelled notes as 16 kHz WAV, clean and with noise at 20, 10 and 5 dB, and a list for each.

usage: mix_noise.py SHARED WORK [EVERY]

The noise of a note is chosen by the note's number, starts at a place fixed by it, and is scaled so that the ratio of mean
power (speech where it is louder than a hundredth of its peak, noise over the same stretch) is as said.
"""
import array
import json
import math
import os
import subprocess
import sys
import wave

RATE = 16000


def decode(path):
    raw = subprocess.run(["ffmpeg", "-v", "error", "-nostdin", "-i", path, "-ac", "1", "-ar", str(RATE), "-f", "s16le", "-"],
                         check=True, capture_output=True).stdout
    return array.array("h", raw)


def write(path, samples):
    with wave.open(path, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(samples.tobytes())


def power(samples):
    return sum(s * s for s in samples) / max(len(samples), 1)


def mixed(speech, noise, start, decibels):
    loud = max(abs(s) for s in speech) / 100
    spoken = [s for s in speech if abs(s) > loud]
    under = [noise[(start + i) % len(noise)] for i in range(len(speech))]
    gain = math.sqrt(power(spoken) / max(power(under), 1e-9) / 10 ** (decibels / 10))
    sums = [s + gain * n for s, n in zip(speech, under)]
    # Clipping would be another kind of damage than the one measured.
    scale = min(1.0, 32000 / max(1, max(abs(s) for s in sums)))
    return array.array("h", [round(s * scale) for s in sums])


def main():
    shared, work = sys.argv[1], sys.argv[2]
    every = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    with open(f"{shared}/corpus/notes-dev.jsonl", encoding="utf-8") as lines:
        notes = [json.loads(line) for line in lines][::every]
    found = {os.path.splitext(f)[0]: f"{shared}/sound/dev/{f}" for f in os.listdir(f"{shared}/sound/dev")}
    noises = [decode(f"{shared}/sound/noise/{f}") for f in sorted(os.listdir(f"{shared}/sound/noise")) if not f.endswith(".jsonl")]
    lists = {name: open(f"{work}/{name}.jsonl", "w", encoding="utf-8") for name in ("clean", "20", "10", "5")}
    for note in notes:
        number = int("".join(c for c in note["id"] if c.isdigit()))
        speech, noise = decode(found[note["id"]]), noises[number % len(noises)]
        for name, out in lists.items():
            path = os.path.abspath(f"{work}/{note['id']}-{name}.wav")
            if not os.path.exists(path):
                write(path, speech if name == "clean" else mixed(speech, noise, number * 7919 % len(noise), int(name)))
            out.write(json.dumps({"id": note["id"], "samples": path, "birds": note.get("birds", [])}) + "\n")


if __name__ == "__main__":
    main()
