#!/usr/bin/env python3
"""Speaks notes with free synthetic voices, in parallel, as 16 kHz samples.

usage: voices.py PAIRS.jsonl OUT.npz SEED

espeak-ng (many accents and timbres) and flite (voices of CMU ARCTIC), each with its own speed and pitch for every note. OUT holds all
samples as 16-bit integers in one array, and where each note begins.
"""
import json
import multiprocessing
import os
import random
import subprocess
import sys
import tempfile
import wave

import numpy

ACCENTS = "en-gb en-gb en-gb-scotland en-gb-x-rp en-gb-x-gbclan en-gb-x-gbcwmd en-us en-us-nyc en-029".split()
TIMBRES = "m1 m2 m3 m4 m5 m6 m7 m8 f1 f2 f3 f4 f5 klatt klatt2 klatt3 Andy Annie Denis edward grandma grandpa iven Mario max michael rob steph".split()
FLITE = "slt rms awb kal16".split()
RATE = 16000


def speak(job):
    """One note's samples, or None if the voice failed."""
    number, text, seed = job
    r = random.Random(seed * 1_000_003 + number)
    with tempfile.NamedTemporaryFile(suffix=".wav") as out:
        if r.random() < 0.5:
            voice = r.choice(ACCENTS) + ("+" + r.choice(TIMBRES) if r.random() < 0.85 else "")
            command = ["espeak-ng", "-v", voice, "-s", str(r.randrange(125, 195)), "-p", str(r.randrange(20, 80)), "-g", str(r.choice([0, 0, 1, 2])), "-w", out.name, text]
        else:
            voice = r.choice(FLITE)
            command = ["flite", "-voice", voice, "-t", text, "-o", out.name, "--setf", f"duration_stretch={r.uniform(0.8, 1.25):.2f}"]
            if r.random() < 0.6:
                command += ["--setf", f"int_f0_target_mean={r.uniform(90, 220):.0f}"]
        if subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode != 0:
            return None
        try:
            with wave.open(out.name) as sound:
                rate, data = sound.getframerate(), sound.readframes(sound.getnframes())
        except (wave.Error, EOFError):
            return None
    samples = numpy.frombuffer(data, dtype=numpy.int16).astype(numpy.float32)
    if len(samples) < rate // 4:
        return None
    # A little of what a real throat does between two notes: the whole spectrum moves with the speed.
    count = int(len(samples) * RATE / rate / r.uniform(0.93, 1.07))
    samples = numpy.interp(numpy.linspace(0, len(samples) - 1, count), numpy.arange(len(samples)), samples)
    loud = numpy.flatnonzero(numpy.abs(samples) > 0.01 * numpy.abs(samples).max())
    samples = samples[loud[0] : loud[-1] + 1]
    pads = [numpy.zeros(int(RATE * r.uniform(0.05, 0.4))) for _ in range(2)]
    samples = numpy.concatenate([pads[0], samples, pads[1]])
    return (samples / numpy.abs(samples).max() * 12000).astype(numpy.int16)


def main():
    seed = int(sys.argv[3])
    with open(sys.argv[1], encoding="utf-8") as lines:
        texts = [json.loads(line)["spoken"] for line in lines]
    with multiprocessing.Pool(os.cpu_count()) as pool:
        spoken = pool.map(speak, [(i, t, seed) for i, t in enumerate(texts)], chunksize=16)
    lengths = numpy.array([0 if s is None else len(s) for s in spoken])
    numpy.savez(sys.argv[2], samples=numpy.concatenate([s for s in spoken if s is not None]), lengths=lengths)
    print(f"{(lengths > 0).sum()} of {len(texts)} notes, {lengths.sum() / RATE / 3600:.1f} hours", file=sys.stderr)


if __name__ == "__main__":
    main()
