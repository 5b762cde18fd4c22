#!/usr/bin/env python3
"""Trains a small change to Whisper's weights on spoken notes: low-rank additions to every linear layer.

usage: train.py MODEL.bin PAIRS.jsonl SPOKEN.npz NOISE.npz OUT.safetensors [STEPS] [PACE] [SHARE]

MODEL is a model of whisper.cpp's form (f16 or q8_0); its own weights stay as they are. The encoder's window is cut to the sound, as the program does
it, so that the change also teaches the model to live with the cut. The roster's names stand before the note, as the program shows
them. Sound is made worse on the way, all of it on the GPU: noise at 0 to 30 dB, a room, a telephone's band, other speeds. In one of nine there is
noise and no voice, and what is to be written is nothing. The last 400 notes are never trained on. PACE is the highest rate of learning
(default 0.001); SHARE is the share of the change that is kept (default the whole).
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

RANK, HELD, BATCH, SILENT, RATE = 16, 400, 96, 12, 16000
WIDTH = 32
EOT, SOT, EN, TRANSCRIBE, PREV, NO_TIMES = 50257, 50258, 50259, 50359, 50361, 50363
device = "cuda" if torch.cuda.is_available() else "cpu"
# One kind of attention plans anew for every shape, and every batch has a shape of its own.
torch.backends.cuda.enable_cudnn_sdp(False)


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


def encoding(vocabulary):
    """Whisper's tokens, from the list in the model file."""
    return tiktoken.Encoding("notes", pat_str=r"'s|'t|'re|'ve|'m|'ll|'d| ?\p{L}+| ?\p{N}+| ?[^\s\p{L}\p{N}]+|\s+(?!\S)|\s+",
                             mergeable_ranks={t: i for i, t in enumerate(vocabulary[:EOT])}, special_tokens={})


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
        self.share = 1.0

    def linear(self, name, x):
        out = F.linear(x, self.w[name + ".weight"], self.w.get(name + ".bias"))
        if self.share:
            key = name.replace(".", "/")
            out = out + F.linear(F.linear(x, self.low[key + "/a"]), self.low[key + "/b"]) * (2 * self.share)
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

    def hear(self, mel):
        bias = [self.w[f"encoder.conv{i}.bias"].reshape(-1) for i in (1, 2)]
        x = F.gelu(F.conv1d(mel, self.w["encoder.conv1.weight"], bias[0], padding=1))
        x = F.gelu(F.conv1d(x, self.w["encoder.conv2.weight"], bias[1], stride=2, padding=1)).transpose(1, 2)
        x = x + self.w["encoder.positional_embedding"][: x.shape[1]]
        for i in range(self.layers):
            x = self.block(f"encoder.blocks.{i}", x)
        return self.norm("encoder.ln_post", x)

    def write(self, sound, tokens, wanted=None):
        y = self.w["decoder.token_embedding.weight"][tokens] + self.w["decoder.positional_embedding"][: tokens.shape[1]]
        for i in range(self.text_layers):
            y = self.block(f"decoder.blocks.{i}", y, sound, causal=True)
        y = self.norm("decoder.ln", y)
        return F.linear(y if wanted is None else y[wanted], self.w["decoder.token_embedding.weight"])

    def forward(self, mel, tokens, wanted):
        return self.write(self.hear(mel), tokens, wanted)


def mel_of(samples, filters):
    """Log-mel of a batch, each normalised on its own, as Whisper's reference does it."""
    window = torch.hann_window(400, device=device)
    power = torch.stft(samples, 400, 160, window=window, return_complex=True)[..., :-1].abs() ** 2
    log = torch.clamp(filters @ power, min=1e-10).log10()
    log = torch.maximum(log, log.amax((1, 2), keepdim=True) - 8)
    return (log + 4) / 4


def uniform(rows, low, high):
    return torch.rand(rows, 1, device=device) * (high - low) + low


def sometimes(rows, odds):
    return torch.rand(rows, 1, device=device) < odds


def level(x):
    """Mean power where it is louder than a hundredth of its peak."""
    loud = (x.abs() > 0.01 * x.abs().amax(1, keepdim=True)).float()
    return ((x * x * loud).sum(1, keepdim=True) / loud.sum(1, keepdim=True).clamp(min=1)).clamp(min=1e-10)


def noises(rows, length, recorded, voices):
    """Noise of many kinds, each of mean power one: recorded, of any colour with gusts, hum, chirps, and many voices at once."""
    at = torch.randint(0, recorded.shape[1], (rows, 1), device=device) + (torch.arange(length, device=device) * uniform(rows, 0.8, 1.25)).long()
    out = recorded[torch.randint(0, len(recorded), (rows, 1), device=device), at % recorded.shape[1]]
    size = 1 << (length - 1).bit_length()
    pitch = torch.linspace(0, 1, size // 2 + 1, device=device).clamp(min=1e-4)
    seconds = torch.arange(length, device=device) / RATE
    kind = torch.rand(rows, device=device)

    def put(chosen, made):
        n = int(chosen.sum())
        if n:
            out[chosen] = made(n)

    def coloured(n):
        # Of all rows, since a transform of another size or number of rows costs a plan of its own.
        spectrum = torch.fft.rfft(torch.randn(rows, size, device=device)) * pitch ** -uniform(rows, 0, 1.5)
        gusts = 1 + uniform(n, 0, 0.9) * torch.sin(2 * torch.pi * (uniform(n, 0.1, 2.5) * seconds + uniform(n, 0, 1)))
        return torch.fft.irfft(spectrum, size)[:n, :length] * gusts

    def hum(n):
        ground, made = uniform(n, 35, 180), 0
        for k in range(1, 9):
            made = made + torch.sin(2 * torch.pi * (k * ground * seconds + uniform(n, 0, 1))) * uniform(n, 0, 1) / k
        return made + 0.05 * torch.randn(n, length, device=device)

    def chirps(n):
        rate, made = uniform(n, 0.4, 6), 0
        for _ in range(2):
            beat = (rate * seconds + uniform(n, 0, 1)) % 1
            pitch = uniform(n, 1200, 6000) + uniform(n, -1500, 1500) * beat + uniform(n, 0, 300) * torch.sin(2 * torch.pi * uniform(n, 4, 40) * seconds)
            made = made + torch.sin(2 * torch.pi * torch.cumsum(pitch, 1) / RATE) * (beat < uniform(n, 0.1, 0.6)) * torch.sin(torch.pi * beat)
        return made + 0.03 * torch.randn(n, length, device=device)

    def crowd(n):
        made = 0
        for _ in range(7):
            chosen = voices[torch.randint(0, len(voices), (n,), device=device)]
            made = made + torch.roll(chosen, int(torch.randint(0, length, (1,))), 1) * uniform(n, 0.5, 1)
        return made

    put((kind > 0.5) & (kind <= 0.75), coloured)
    put((kind > 0.75) & (kind <= 0.81), hum)
    put((kind > 0.81) & (kind <= 0.89), chirps)
    put(kind > 0.89, crowd)
    return out / out.pow(2).mean(1, keepdim=True).clamp(min=1e-9).sqrt()


def worse(sound, recorded):
    """A room, a narrow band, a tilt, noise and another level, each for some of the rows."""
    rows, length = sound.shape
    size = 1 << (length + RATE // 4 - 1).bit_length()
    after = torch.arange(RATE // 4, device=device) / RATE
    tail = torch.randn(rows, len(after), device=device) * torch.exp(-after * uniform(rows, 12, 60)) * uniform(rows, 0.01, 0.07) * sometimes(rows, 0.35)
    tail[:, 0] = 1
    pitch = torch.linspace(0, RATE / 2, size // 2 + 1, device=device)
    band = torch.sigmoid((pitch - uniform(rows, 50, 300)) / 40) * torch.sigmoid((uniform(rows, 2800, 7800) - pitch) / 200)
    band = torch.where(sometimes(rows, 0.35), band, torch.ones_like(band))
    tilt = 10 ** (uniform(rows, -9, 9) * sometimes(rows, 0.5) * (pitch / RATE * 2 - 0.3) / 20)
    out = torch.fft.irfft(torch.fft.rfft(sound, size) * torch.fft.rfft(tail, size) * band * tilt, size)[:, :length]
    decibels = uniform(rows, 0, 30)
    gain = (level(out) / 10 ** (decibels / 10)).sqrt() * sometimes(rows, 0.65)
    out = out + gain * noises(rows, length, recorded, sound)
    out = out * 10 ** (uniform(rows, -30, -1) / 20) / out.abs().amax(1, keepdim=True).clamp(min=1e-6)
    over = uniform(rows, 1, 4)
    return torch.where(sometimes(rows, 0.06), (out * over / out.abs().amax(1, keepdim=True).clamp(min=1e-6)).clamp(-1, 1), out)


def masked(mel):
    """A band of a few filters is lost for some of the rows."""
    rows, mels, _ = mel.shape
    place = torch.arange(mels, device=device)
    start, width = uniform(rows, 0, mels), uniform(rows, 1, 14)
    lost = (place >= start) & (place < start + width) & sometimes(rows, 0.3)
    return torch.where(lost[:, :, None], mel.mean((1, 2), keepdim=True), mel)


def main():
    model_path, pairs_path, spoken_path, noise_path, out_path = sys.argv[1:6]
    steps, top, share = (float(sys.argv[k]) if len(sys.argv) > k else usual for k, usual in ((6, 3000), (7, 1e-3), (8, 1)))
    steps = int(steps)
    torch.manual_seed(7)
    r = random.Random(7)
    head, filters, vocabulary, tensors = load(model_path)
    model, text = Whisper(head, tensors), encoding(vocabulary)
    with open(pairs_path, encoding="utf-8") as lines:
        pairs = [json.loads(line) for line in lines]
    spoken = numpy.load(spoken_path)
    lengths = spoken["lengths"]
    begins = torch.tensor(numpy.cumsum(lengths) - lengths, device=device)
    samples = torch.tensor(spoken["samples"]).to(device)
    stored = numpy.load(noise_path)
    shortest = min(len(stored[k]) for k in stored.files)
    recorded = torch.tensor(numpy.stack([stored[k][:shortest] for k in stored.files]).astype(numpy.float32) / 32768).to(device)
    whole = [i for i in range(len(pairs)) if RATE // 4 < lengths[i] < 26 * RATE]
    train, held = [i for i in whole if i < len(pairs) - HELD], [i for i in whole if i >= len(pairs) - HELD]

    def tokens_of(i, shuffle):
        names = pairs[i]["birds"][:]
        if shuffle.random() < 0.3:
            shuffle.shuffle(names)
        before = text.encode(" " + ", ".join(names) + ".") if names and shuffle.random() < 0.9 else []
        begin = ([PREV] + before if before else []) + [SOT, EN, TRANSCRIBE, NO_TIMES]
        return begin, text.encode(" " + pairs[i]["written"]) + [EOT]

    def batch_of(chosen, shuffle, spoil):
        pace = uniform(len(chosen), 0.9, 1.12) if spoil else torch.ones(len(chosen), 1, device=device)
        size = torch.tensor([int(lengths[i]) for i in chosen], device=device)[:, None]
        long = (size / pace).long()
        margin = shuffle.uniform(0.5, 1.5) if spoil else 1.0
        positions = int((long.max().item() / RATE + margin) * 50) // WIDTH * WIDTH + WIDTH
        place = torch.arange(min(positions, 1500) * 320, device=device)
        at = place * pace
        low = at.long().clamp(max=size - 2)
        begin = begins[chosen][:, None]
        left, right = samples[begin + low].float(), samples[begin + low + 1].float()
        inside = (place < long).float()
        sound = (left + (right - left) * (at - low).clamp(0, 1)) / 32768 * inside
        rows, goals = [], []
        for i in chosen:
            before, rest = tokens_of(i, shuffle)
            rows.append(before + rest)
            goals.append([-100] * (len(before) - 1) + rest + [-100])
        if spoil:
            sound = worse(sound, recorded)
            # In some there is noise and no voice: then nothing is to be written.
            quiet = noises(SILENT, sound.shape[1], recorded, sound) * 10 ** (uniform(SILENT, -60, -20) / 20)
            sound = torch.cat([sound, quiet])
            much = torch.rand(SILENT, 1, device=device) * 0.9 + 0.1
            inside = torch.cat([inside, (place < much * len(place)).float()])
            for _ in range(SILENT):
                before, _ = tokens_of(shuffle.choice(chosen), shuffle)
                rows.append(before + [EOT])
                goals.append([-100] * (len(before) - 1) + [EOT, -100])
        size = -(-max(len(x) for x in rows) // 8) * 8
        tokens = torch.tensor([x + [EOT] * (size - len(x)) for x in rows], device=device)
        goal = torch.tensor([x + [-100] * (size - len(x)) for x in goals], device=device)
        # Where nothing was recorded there is nothing: the program pads with silence.
        mel = mel_of(sound * inside, filters)
        return (masked(mel) if spoil else mel), tokens, goal

    def loss_of(batch):
        mel, tokens, goal = batch
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            logits = model(mel, tokens, goal >= 0).float()
        return F.cross_entropy(logits, goal[goal >= 0]), logits, goal

    def test():
        shuffle, lost, wrong, count, right = random.Random(11), [], 0, 0, 0
        with torch.no_grad():
            for k in range(0, len(held), BATCH):
                loss, logits, goal = loss_of(batch_of(held[k : k + BATCH], shuffle, False))
                lost.append(loss.item())
                off = torch.zeros_like(goal, dtype=torch.bool)
                off[goal >= 0] = logits.argmax(-1) != goal[goal >= 0]
                wrong, count, right = wrong + off.sum().item(), count + (goal >= 0).sum().item(), right + (off.sum(1) == 0).sum().item()
        return f"held back: loss {sum(lost) / len(lost):.3f}, tokens wrong {wrong / count:.2%}, notes right {right / len(held):.1%}"

    def keep():
        change = {}
        for key, value in model.low.items():
            scaled = value.detach() * (2 * share if key.endswith("/b") else 1)
            change[key.replace("/", ".")] = scaled.to(torch.float16).contiguous().cpu()
        save_file(change, out_path, metadata={"base": "whisper base, multilingual", "share": str(share), "form": "weight += b x a"})

    model.share = 0.0
    print("before,", test(), flush=True)
    model.share = 1.0
    best = torch.optim.AdamW(model.low.parameters(), lr=top, weight_decay=0.01, betas=(0.9, 0.98), fused=device == "cuda")
    pace = torch.optim.lr_scheduler.OneCycleLR(best, top, total_steps=steps, pct_start=0.06)
    began, order, seen = time.time(), [], torch.zeros((), device=device)
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
        seen += loss.detach()
        if step % 100 == 99 or step == steps - 1:
            print(f"step {step + 1}, loss {seen.item() / (step % 100 + 1):.4f}, {time.time() - began:.0f} s", flush=True)
            seen.zero_()
        if step % 1000 == 999 or step == steps - 1:
            print(test(), flush=True)
            keep()


if __name__ == "__main__":
    main()
