#!/usr/bin/env python3
"""Trains a small change to Whisper's weights on spoken notes: low-rank additions to every linear layer.

usage: train.py MODEL.bin PAIRS.jsonl SPOKEN.npz NOISE.npz OUT.safetensors [STEPS]

MODEL is a model of whisper.cpp's form (f16 or q8_0); its own weights stay as they are. The encoder's window is cut to the sound, as the program does
it, so that the change also teaches the model to live with the cut. The roster's names stand before the note, as the program shows
them. Sound is made worse on the way: noise at 3 to 30 dB, a room, a telephone's band. The last 400 notes are never trained on.
"""
import json
import random
import struct
import sys
import time

import numpy
import tiktoken
import torch
import torch.nn.functional as F
from safetensors.torch import save_file

RANK, HELD, BATCH, RATE = 16, 400, 64, 16000
# The share of the change that is kept: the whole of it makes the model worse at real voices (see README.md).
SHARE = 0.6
MARGIN_S, WIDTH = 1.28, 32
EOT, SOT, EN, TRANSCRIBE, PREV, NO_TIMES = 50257, 50258, 50259, 50359, 50361, 50363
NOTES = ("713 grams, two chicks, half crop, cast, mutes normal, bating. 984, keen, instant. Five flights on the creance to the fist, longest 35 metres, "
         "then free to the lure, flew well. 2 lb 7, half a quail, day-old chick, a pheasant leg, three titbits. 248, mantling, footing, rousing, hood, jesses, "
         "telemetry. 867, 1,256, 108.5. Windy, 9 degrees.")
device = "cuda" if torch.cuda.is_available() else "cpu"


def load(path):
    """Shape, mel filters, tokens and tensors of a model file."""
    data = open(path, "rb").read()
    head = struct.unpack_from("<12i", data, 0)
    # magic, vocab, audio_ctx, state, head, layer, text_ctx, state, head, layer, mels, ftype
    mels, bins = struct.unpack_from("<2i", data, 48)
    at = 56
    filters = numpy.frombuffer(data, numpy.float32, mels * bins, at).reshape(mels, bins)
    at += 4 * mels * bins
    (count,) = struct.unpack_from("<i", data, at)
    at += 4
    tokens = []
    for _ in range(count):
        (size,) = struct.unpack_from("<I", data, at)
        tokens.append(data[at + 4 : at + 4 + size])
        at += 4 + size
    tensors = {}
    while at < len(data):
        dims, size, form = struct.unpack_from("<3i", data, at)
        at += 12
        shape = struct.unpack_from(f"<{dims}i", data, at)[::-1]
        at += 4 * dims
        name = data[at : at + size].decode()
        at += size
        n = int(numpy.prod(shape))
        if form == 0:
            values, used = numpy.frombuffer(data, numpy.float32, n, at), 4 * n
        elif form == 1:
            values, used = numpy.frombuffer(data, numpy.float16, n, at), 2 * n
        elif form == 8:
            block = numpy.frombuffer(data, numpy.dtype([("d", "<f2"), ("q", "i1", 32)]), n // 32, at)
            values, used = (block["d"].astype(numpy.float32)[:, None] * block["q"]).reshape(-1), 34 * (n // 32)
        else:
            raise ValueError(f"{name} has a form this script does not know: {form}")
        tensors[name] = torch.tensor(values.astype(numpy.float32)).reshape(shape).to(device)
        at += used
    return head, torch.tensor(filters).to(device), tokens, tensors


class Whisper(torch.nn.Module):
    def __init__(self, head, tensors):
        super().__init__()
        self.heads, self.layers, self.text_layers = head[4], head[5], head[9]
        self.w = tensors
        self.low = torch.nn.ParameterDict()
        for name, weight in tensors.items():
            if name.endswith(".weight") and ".blocks." in name and weight.dim() == 2:
                key = name[: -len(".weight")].replace(".", "/")
                self.low[key + "/a"] = torch.nn.Parameter(torch.randn(RANK, weight.shape[1], device=device) / weight.shape[1] ** 0.5)
                self.low[key + "/b"] = torch.nn.Parameter(torch.zeros(weight.shape[0], RANK, device=device))
        self.on = True

    def linear(self, name, x):
        out = F.linear(x, self.w[name + ".weight"], self.w.get(name + ".bias"))
        if self.on:
            key = name.replace(".", "/")
            out = out + F.linear(F.linear(x, self.low[key + "/a"]), self.low[key + "/b"]) * 2
        return out

    def norm(self, name, x):
        return F.layer_norm(x.float(), x.shape[-1:], self.w[name + ".weight"], self.w[name + ".bias"])

    def attend(self, name, x, over, causal=False):
        q, k, v = (self.linear(f"{name}.{part}", y) for part, y in (("query", x), ("key", over), ("value", over)))
        q, k, v = (t.unflatten(-1, (self.heads, -1)).transpose(1, 2) for t in (q, k, v))
        out = F.scaled_dot_product_attention(q, k, v, is_causal=causal)
        return self.linear(f"{name}.out", out.transpose(1, 2).flatten(2))

    def block(self, name, x, sound=None, causal=False):
        y = self.norm(f"{name}.attn_ln", x)
        x = x + self.attend(f"{name}.attn", y, y, causal)
        if sound is not None:
            x = x + self.attend(f"{name}.cross_attn", self.norm(f"{name}.cross_attn_ln", x), sound)
        y = F.gelu(self.linear(f"{name}.mlp.0", self.norm(f"{name}.mlp_ln", x)))
        return x + self.linear(f"{name}.mlp.2", y)

    def forward(self, mel, tokens):
        bias = [self.w[f"encoder.conv{i}.bias"].reshape(-1) for i in (1, 2)]
        x = F.gelu(F.conv1d(mel, self.w["encoder.conv1.weight"], bias[0], padding=1))
        x = F.gelu(F.conv1d(x, self.w["encoder.conv2.weight"], bias[1], stride=2, padding=1)).transpose(1, 2)
        x = x + self.w["encoder.positional_embedding"][: x.shape[1]]
        for i in range(self.layers):
            x = self.block(f"encoder.blocks.{i}", x)
        sound = self.norm("encoder.ln_post", x)
        y = self.w["decoder.token_embedding.weight"][tokens] + self.w["decoder.positional_embedding"][: tokens.shape[1]]
        for i in range(self.text_layers):
            y = self.block(f"decoder.blocks.{i}", y, sound, causal=True)
        return F.linear(self.norm("decoder.ln", y), self.w["decoder.token_embedding.weight"])


def mel_of(samples, filters):
    """Log-mel of a batch, each normalised on its own, as Whisper's reference does it."""
    window = torch.hann_window(400, device=device)
    power = torch.stft(samples, 400, 160, window=window, return_complex=True)[..., :-1].abs() ** 2
    log = torch.clamp(filters @ power, min=1e-10).log10()
    log = torch.maximum(log, log.amax((1, 2), keepdim=True) - 8)
    return (log + 4) / 4


def worse(batch, noise, r):
    """Noise, a room, and a narrow band, each for some of the notes."""
    n, length = batch.shape
    spectrum = torch.fft.rfft(batch, 2 * length)
    tail = torch.arange(RATE // 4, device=device) / RATE
    for i in range(n):
        if r.random() < 0.3:
            room = torch.randn(len(tail), device=device) * torch.exp(-tail * r.uniform(15, 60)) * r.uniform(0.01, 0.06)
            room[0] = 1
            spectrum[i] *= torch.fft.rfft(room, 2 * length)
        if r.random() < 0.35:
            pitch = torch.linspace(0, RATE / 2, spectrum.shape[1], device=device)
            spectrum[i] *= torch.sigmoid((pitch - r.uniform(50, 300)) / 40) * torch.sigmoid((r.uniform(3000, 7800) - pitch) / 200)
        if r.random() < 0.5:
            pitch = torch.linspace(0, 1, spectrum.shape[1], device=device)
            spectrum[i] *= 10 ** (r.uniform(-8, 8) * (pitch - 0.3) / 20)
    out = torch.fft.irfft(spectrum, 2 * length)[:, :length]
    for i in range(n):
        if r.random() < 0.6:
            piece = noise[r.randrange(len(noise))]
            start = r.randrange(max(1, len(piece) - length))
            piece = piece[start : start + length]
            piece = piece.repeat(length // len(piece) + 1)[:length]
            loud = out[i].abs() > 0.01 * out[i].abs().max()
            gain = (out[i][loud].pow(2).mean() / piece.pow(2).mean().clamp(min=1e-9) / 10 ** (r.uniform(3, 30) / 10)).sqrt()
            out[i] = out[i] + gain * piece
        out[i] *= 10 ** (r.uniform(-26, -1) / 20) / out[i].abs().max().clamp(min=1e-6)
    return out


def main():
    model_path, pairs_path, spoken_path, noise_path, out_path = sys.argv[1:6]
    steps = int(sys.argv[6]) if len(sys.argv) > 6 else 1500
    torch.manual_seed(7)
    r = random.Random(7)
    head, filters, vocabulary, tensors = load(model_path)
    model = Whisper(head, tensors)
    text = tiktoken.Encoding("notes", pat_str=r"'s|'t|'re|'ve|'m|'ll|'d| ?\p{L}+| ?\p{N}+| ?[^\s\p{L}\p{N}]+|\s+(?!\S)|\s+",
                             mergeable_ranks={t: i for i, t in enumerate(vocabulary[:EOT])}, special_tokens={})
    with open(pairs_path, encoding="utf-8") as lines:
        pairs = [json.loads(line) for line in lines]
    spoken = numpy.load(spoken_path)
    ends = numpy.cumsum(spoken["lengths"])
    samples, lengths = torch.tensor(spoken["samples"]), spoken["lengths"]
    stored = numpy.load(noise_path)
    noise = [torch.tensor(stored[k].astype(numpy.float32) / 32768).to(device) for k in stored.files]
    whole = [i for i in range(len(pairs)) if RATE // 2 < lengths[i] < 24 * RATE]
    train, held = [i for i in whole if i < len(pairs) - HELD], [i for i in whole if i >= len(pairs) - HELD]

    def clip(i):
        return samples[ends[i] - lengths[i] : ends[i]].float() / 32768

    def tokens_of(i, shuffle):
        names = pairs[i]["birds"][:]
        way = shuffle.random()
        before = []
        if names and way < 0.78:
            before = text.encode(" " + ", ".join(names) + ".")
        elif way < 0.86:
            before = text.encode(" " + (", ".join(names) + ". " if names else "") + NOTES)
        begin = ([PREV] + before if before else []) + [SOT, EN, TRANSCRIBE, NO_TIMES]
        return begin, text.encode(" " + pairs[i]["written"]) + [EOT]

    def batch_of(chosen, shuffle, spoil):
        longest = max(lengths[i] for i in chosen)
        positions = int(-(-(longest / RATE + MARGIN_S) * 50 // 1) // WIDTH * WIDTH + WIDTH)
        sound = torch.zeros(len(chosen), min(positions, 1500) * 320)
        rows, goals = [], []
        for row, i in enumerate(chosen):
            piece = clip(i)
            sound[row, : len(piece)] = piece
            begin, rest = tokens_of(i, shuffle)
            rows.append(begin + rest)
            goals.append([-100] * (len(begin) - 1) + rest + [-100])
        size = max(len(x) for x in rows)
        tokens = torch.tensor([x + [EOT] * (size - len(x)) for x in rows], device=device)
        goal = torch.tensor([x + [-100] * (size - len(x)) for x in goals], device=device)
        sound = sound.to(device)
        with torch.no_grad():
            heard = worse(sound, noise, shuffle) if spoil else sound
            # Where nothing was recorded there is nothing: the program pads with silence.
            for row, i in enumerate(chosen):
                heard[row, lengths[i] :] = 0
            return mel_of(heard, filters), tokens, goal

    def loss_of(batch):
        mel, tokens, goal = batch
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            logits = model(mel, tokens)
        return F.cross_entropy(logits.float().flatten(0, 1), goal.flatten(), ignore_index=-100), logits, goal

    def test(spoil):
        shuffle, wrong, whole_right, lost = random.Random(11), 0, 0, []
        count = 0
        with torch.no_grad():
            for k in range(0, len(held), BATCH):
                loss, logits, goal = loss_of(batch_of(held[k : k + BATCH], shuffle, spoil))
                lost.append(loss.item())
                off = (logits.argmax(-1) != goal) & (goal >= 0)
                wrong += off.sum().item()
                count += (goal >= 0).sum().item()
                whole_right += (off.sum(1) == 0).sum().item()
        return f"loss {sum(lost) / len(lost):.3f}, tokens wrong {wrong / count:.2%}, notes right {whole_right / len(held):.1%}"

    model.on = False
    print("before, clean:", test(False), flush=True)
    print("before, noisy:", test(True), flush=True)
    model.on = True
    best = torch.optim.AdamW(model.low.parameters(), lr=1e-3, weight_decay=0.01, betas=(0.9, 0.98))
    pace = torch.optim.lr_scheduler.OneCycleLR(best, 1e-3, total_steps=steps, pct_start=0.08)
    began, order, seen = time.time(), [], []
    for step in range(steps):
        if len(order) < BATCH:
            # Notes of like length go together, in an order of chance.
            fresh = sorted(train, key=lambda i: lengths[i] * r.uniform(0.85, 1.15))
            groups = [fresh[k : k + BATCH] for k in range(0, len(fresh) - BATCH + 1, BATCH)]
            r.shuffle(groups)
            order = [i for group in groups for i in group]
        chosen, order = order[:BATCH], order[BATCH:]
        loss, _, _ = loss_of(batch_of(chosen, r, True))
        best.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.low.parameters(), 1.0)
        best.step()
        pace.step()
        seen.append(loss.item())
        if step == min(39, steps - 1):
            print(f"time {(time.time() - began) / (step + 1):.4f} s a step", flush=True)
        if step % 100 == 99:
            print(f"step {step + 1}, loss {sum(seen[-100:]) / 100:.4f}, {time.time() - began:.0f} s", flush=True)
        if step % 500 == 499 or step == steps - 1:
            print("clean:", test(False), "| noisy:", test(True), flush=True)
            change = {}
            for key, value in model.low.items():
                scaled = value.detach() * (2 * SHARE if key.endswith("/b") else 1)
                change[key.replace("/", ".")] = scaled.to(torch.float16).contiguous().cpu()
            save_file(change, out_path, metadata={"base": "whisper base, multilingual", "step": str(step + 1), "share": str(SHARE), "form": "weight += b x a"})


if __name__ == "__main__":
    main()
