#!/usr/bin/env python3
"""Speaks notes with free synthetic voices, in parallel, as 16 kHz samples.

usage: voices.py PAIRS.jsonl OUT.npz SEED [NEURAL.onnx]

espeak-ng (many accents and timbres), flite (voices of CMU ARCTIC) and, where its file is named, one neural voice of Piper's form with its
`.json` beside it; each with its own speed and pitch for every note. A "|" in a text is a pause: the pieces are spoken one by one by the
same voice. OUT holds all samples as 16-bit integers in one array, and how long each note is.
"""
import ctypes
import ctypes.util
import json
import multiprocessing
import os
import random
import re
import subprocess
import sys
import tempfile
import wave

import numpy

ACCENTS = "en-gb en-gb en-gb-scotland en-gb-x-rp en-gb-x-gbclan en-gb-x-gbcwmd en-us en-us-nyc en-029".split()
TIMBRES = "m1 m2 m3 m4 m5 m6 m7 m8 f1 f2 f3 f4 f5 klatt klatt2 klatt3 Andy Annie Denis edward grandma grandpa iven Mario max michael rob steph".split()
FLITE = "slt rms awb kal16".split()
RATE = 16000
neural = None


class Neural:
    """A voice of Piper's form; its phonemes come from espeak-ng's library."""

    def __init__(self, path):
        import onnxruntime
        with open(path + ".json", encoding="utf-8") as lines:
            card = json.load(lines)
        self.ids, self.rate = card["phoneme_id_map"], card["audio"]["sample_rate"]
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self.net = onnxruntime.InferenceSession(path, options, providers=["CPUExecutionProvider"])
        self.espeak = ctypes.CDLL(ctypes.util.find_library("espeak-ng") or "libespeak-ng.so.1")
        self.espeak.espeak_TextToPhonemes.restype = ctypes.c_char_p
        self.espeak.espeak_Initialize(2, 0, os.environ["ESPEAK_DATA_PATH"].encode() if "ESPEAK_DATA_PATH" in os.environ else None, 0)
        # Once: the library does not bear a change of accent between two texts.
        self.espeak.espeak_SetVoiceByName(card["espeak"]["voice"].encode())

    def phonemes(self, text):
        out = ""
        for clause, stop in re.findall(r"([^,.;:!?]+)([,.;:!?]*)", text):
            at = ctypes.c_char_p(clause.strip().encode())
            while at.value:
                out += self.espeak.espeak_TextToPhonemes(ctypes.byref(at), 1, 2).decode()
            out += (stop[:1] or "") + " "
        return out.strip()

    def say(self, text, pace, colour):
        ids = [self.ids["^"][0], self.ids["_"][0]]
        for sign in self.phonemes(text):
            if sign in self.ids:
                ids += [self.ids[sign][0], self.ids["_"][0]]
        ids.append(self.ids["$"][0])
        given = {"input": numpy.array([ids], numpy.int64), "input_lengths": numpy.array([len(ids)], numpy.int64), "scales": numpy.array([colour[0], pace, colour[1]], numpy.float32)}
        return self.net.run(None, given)[0].reshape(-1), self.rate


def begin(path):
    """Loads the neural voice once for each process."""
    global neural
    neural = Neural(path) if path else None


def voice(r):
    """A way to speak: a function from text to samples and their rate."""
    kind = r.choices(["espeak", "flite", "neural"], [3, 4, 3 if neural else 0])[0]
    if kind == "neural":
        pace, colour = r.uniform(0.75, 1.4), (r.uniform(0.4, 0.9), r.uniform(0.5, 1.1))
        return lambda text: neural.say(text, pace, colour)
    if kind == "espeak":
        name = r.choice(ACCENTS) + ("+" + r.choice(TIMBRES) if r.random() < 0.85 else "")
        command = ["espeak-ng", "-v", name, "-s", str(r.randrange(110, 200)), "-p", str(r.randrange(15, 85)), "-g", str(r.choice([0, 0, 0, 1, 2, 5, 15]))]
        return lambda text: spoken_by(command + ["-w", "{}", text])
    command = ["flite", "-voice", r.choice(FLITE), "--setf", f"duration_stretch={r.uniform(0.75, 1.4):.2f}"]
    if r.random() < 0.6:
        command += ["--setf", f"int_f0_target_mean={r.uniform(85, 230):.0f}"]
    return lambda text: spoken_by(command + ["-t", text, "-o", "{}"])


def spoken_by(command):
    """What a program writes to a file."""
    with tempfile.NamedTemporaryFile(suffix=".wav") as out:
        command = [part if part != "{}" else out.name for part in command]
        subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
        with wave.open(out.name) as sound:
            rate, data = sound.getframerate(), sound.readframes(sound.getnframes())
    return numpy.frombuffer(data, dtype=numpy.int16).astype(numpy.float32), rate


def trimmed(samples, edge=0.01):
    loud = numpy.flatnonzero(numpy.abs(samples) > edge * numpy.abs(samples).max())
    return samples[loud[0] : loud[-1] + 1] if len(loud) else samples[:0]


def speak(job):
    """One note's samples, or None if the voice failed."""
    number, text, seed = job
    r = random.Random(seed * 1_000_003 + number)
    say, pieces = voice(r), [piece for piece in text.split("|") if any(c.isalnum() for c in piece)]
    # The whole spectrum moves with the speed: another throat.
    throat, breath, out = r.uniform(0.88, 1.14), r.uniform(0.03, 0.5), []
    try:
        for piece in pieces:
            samples, rate = say(piece)
            if len(samples) < rate // 20:
                return None
            count = int(len(samples) * RATE / rate / throat)
            samples = numpy.interp(numpy.linspace(0, len(samples) - 1, count), numpy.arange(len(samples)), samples)
            if len(pieces) > 1:
                # Words by themselves are not all equally loud, and the pause between two is of any length.
                samples = trimmed(samples) / max(numpy.abs(samples).max(), 1e-6) * r.uniform(0.6, 1)
                out.append(numpy.zeros(int(RATE * r.uniform(0.02, 1) * breath)))
            out.append(samples)
    except (subprocess.CalledProcessError, wave.Error, EOFError, OSError):
        return None
    samples = trimmed(numpy.concatenate(out))
    if len(samples) < RATE // 8:
        return None
    samples = numpy.concatenate([numpy.zeros(int(RATE * r.uniform(0.05, 0.4))), samples, numpy.zeros(int(RATE * r.uniform(0.05, 0.4)))])
    return (samples / numpy.abs(samples).max() * 12000).astype(numpy.int16)


def main():
    seed, path = int(sys.argv[3]), sys.argv[4] if len(sys.argv) > 4 else None
    with open(sys.argv[1], encoding="utf-8") as lines:
        texts = [json.loads(line)["spoken"] for line in lines]
    with multiprocessing.Pool(os.cpu_count(), begin, [path]) as pool:
        spoken = pool.map(speak, [(i, t, seed) for i, t in enumerate(texts)], chunksize=16)
    lengths = numpy.array([0 if s is None else len(s) for s in spoken])
    numpy.savez(sys.argv[2], samples=numpy.concatenate([s for s in spoken if s is not None]), lengths=lengths)
    print(f"{(lengths > 0).sum()} of {len(texts)} notes, {lengths.sum() / RATE / 3600:.1f} hours", file=sys.stderr)


if __name__ == "__main__":
    main()
