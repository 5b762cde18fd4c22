"""Trains the four networks on pictures rendered as the training goes.

    python train.py --seconds 520 --seed 1 --out weights.bin

Renderers fill a store in memory, one process a core; a trainer for each network draws from it, on one GPU, two, or the CPU.
Seed and worker number fix every picture; in which order the trainers meet them depends on the machine, so a
repeat gives the same figures, not the same bits. The first pictures of each renderer are held out.
"""

import argparse
import json
import mmap
import multiprocessing as mp
import os
import time

import cv2
import numpy as np
import torch
from torch.nn import functional as T

import face
import nets
import samples
from samples import AREA_H, AREA_W, MARKS, PATCH_H, PATCH_W, ROWS, STRIP_H, STRIP_W, TILE

HELD_TILES, HELD_STRIPS, HELD_AREAS, HELD_PATCHES = 32, 160, 64, 192
LABEL = 12
PATCHES = 4  # kept for each neighbourhood
TAIL = 24  # empty columns that the reader leaves after a strip's end


def shared(shape, dtype):
    """Returns an array in memory shared with processes forked later."""
    n = int(np.prod(shape)) * np.dtype(dtype).itemsize
    return np.frombuffer(mmap.mmap(-1, n), dtype).reshape(shape)


class Store:
    """The rendered samples, a region for each renderer, filled once and never overwritten."""

    def __init__(self, workers, tiles, strips, areas):
        self.workers = workers
        self.tile = shared((workers, tiles, TILE, TILE, 3), np.uint8)
        self.rows = shared((workers, tiles, ROWS, 8), np.float32)
        self.size = shared((workers, tiles, 2), np.int32)
        self.strip = shared((workers, strips, STRIP_H, STRIP_W, 3), np.uint8)
        self.width = shared((workers, strips), np.int32)
        self.label = shared((workers, strips, LABEL), np.int32)
        self.length = shared((workers, strips), np.int32)
        self.area = shared((workers, areas, AREA_H, AREA_W, 3), np.uint8)
        self.half = shared((workers, areas), np.float32)
        self.marks = shared((workers, areas, MARKS, 6), np.float32)
        self.patch = shared((workers, areas * PATCHES, PATCH_H, PATCH_W, 3), np.uint8)
        self.cls = shared((workers, areas * PATCHES), np.int32)
        self.count = shared((workers, 4), np.int64)
        self.stop = shared((1,), np.int64)


def render(store, w, seed, shares):
    """Fills a renderer's region until it is full or the training ends; `shares` are those of whole scenes, of close
    pictures and of close pictures with a mark."""
    cv2.setNumThreads(1)
    os.nice(5)
    room = [a.shape[1] for a in (store.tile, store.strip, store.area, store.patch)]
    count = store.count[w]
    n = 0
    while not store.stop[0]:
        rng = np.random.default_rng([seed, w, n])
        n += 1
        want = np.array(shares) * [count[0] < room[0] or count[1] < room[1], count[1] < room[1], count[2] < room[2]]
        if not want.sum():
            break
        kind = rng.choice(3, p=want / want.sum())
        im, rows = (samples.picture, samples.close, samples.marked)[kind](rng)
        h, wd = im.shape[:2]
        i = count[0]
        if kind == 0 and i < room[0]:
            store.tile[w, i, :h, :wd] = im
            store.rows[w, i] = samples.rows_of(rows, wd, h)
            store.size[w, i] = (h, wd)
            count[0] = i + 1
        for s, width, label in samples.cuts(rng, im, rows, (1, 3, 2)[kind]):
            i = count[1]
            if i < room[1] and len(label) <= LABEL:
                store.strip[w, i], store.width[w, i] = s, width
                store.label[w, i, :len(label)] = label
                store.length[w, i] = len(label)
                count[1] = i + 1
        for area, half, marks in samples.neighbourhoods(rng, im, rows, 2 if kind == 2 else 1):
            i = count[2]
            if i < room[2]:
                store.area[w, i], store.half[w, i], store.marks[w, i] = area, half, marks
                count[2] = i + 1
        for patch, cls in samples.patches(rng, im, rows):
            i = count[3]
            if i < room[3]:
                store.patch[w, i], store.cls[w, i] = patch, cls
                count[3] = i + 1


class Deck:
    """The part of a store's arrays that a trainer has taken to its device."""

    def __init__(self, store, kind, arrays, held, device):
        self.store, self.kind, self.held, self.device = store, kind, held, device
        self.source = arrays
        self.host = [torch.from_numpy(a) for a in arrays]
        keep = device.type == "cuda"
        self.here = [torch.empty(t.shape, dtype=t.dtype, device=device) if keep else t for t in self.host]
        self.have = np.zeros(store.workers, np.int64)
        self.train = self.test = torch.zeros(0, dtype=torch.long)

    def refresh(self):
        now = self.store.count[:, self.kind].copy()
        for w in range(self.store.workers):
            a, b = int(self.have[w]), int(now[w])
            if b > a and self.device.type == "cuda":
                for src, dst in zip(self.host, self.here):
                    dst[w, a:b] = src[w, a:b].to(self.device)
        self.have = now
        cap = self.here[0].shape[1]
        self.train = torch.cat([torch.arange(w * cap + self.held, w * cap + max(self.held, int(n))) for w, n in enumerate(now)]).to(self.device)
        self.test = torch.cat([torch.arange(w * cap, w * cap + min(self.held, int(n))) for w, n in enumerate(now)]).to(self.device)

    def take(self, idx):
        return [t.flatten(0, 1)[idx] for t in self.here]

    def batch(self, n):
        return self.take(self.train[torch.randint(len(self.train), (n,), device=self.device)])


def shake(x, valid=None):
    """Changes colour and light at random, on the device: x is (B, 3, H, W), 0 to 1."""
    b, d = x.shape[0], x.device
    r = lambda *s: torch.rand(*s, device=d)
    flip = (r(b, 1, 1, 1) < 0.08).to(x.dtype)
    x = x * (1 - flip) + (1 - x) * flip
    if r(1) < 0.2:
        x = x[:, torch.randperm(3, device=d)]
    grey = (r(b, 1, 1, 1) < 0.08).to(x.dtype)
    x = x * (1 - grey) + x.mean(1, keepdim=True) * grey
    x = x * (1 + (r(b, 1, 1, 1) - 0.5) * 0.6) * (1 + (r(b, 3, 1, 1) - 0.5) * 0.2) + (r(b, 1, 1, 1) - 0.5) * 0.2
    x = x + torch.randn_like(x) * (r(b, 1, 1, 1) ** 3 * 0.08)
    return x.clamp(0, 1)


def truth(rows, size):
    """Turns rows (B, ROWS, 8) into the detector's maps at a quarter of the size."""
    n = TILE // 4
    b, d = rows.shape[0], rows.device
    at = (torch.arange(n, device=d, dtype=torch.float32) + 0.5) * 4
    yy, xx = torch.meshgrid(at, at, indexing="ij")
    cx, cy, ux, uy, hw, hh, prim, state = (rows[:, :, i, None, None] for i in range(8))
    dx = (xx - cx) * ux + (yy - cy) * uy
    dy = (yy - cy) * ux - (xx - cx) * uy
    core = (dy.abs() < (0.5 * hh).clamp(min=2.2)) & (dx.abs() < torch.maximum(hw - 0.45 * hh, 0.45 * hw).clamp(min=2.2))
    whole = (dy.abs() < hh * 1.15 + 1) & (dx.abs() < hw + 0.15 * hh + 1)
    true, away = state == 1, state == 2
    core_t = core & true
    heat = core_t.any(1)
    ignore = ((whole & true).any(1) & ~heat) | (whole & away).any(1)
    # The row whose middle line is nearest owns a cell.
    owner = torch.where(core_t, dy.abs() / hh, torch.full_like(dy, 1e9)).argmin(1, keepdim=True)
    g = lambda t: t.expand(b, ROWS, n, n).gather(1, owner)[:, 0]
    dx, dy, hw, hh = g(dx), g(dy), g(hw), g(hh)
    dist = torch.stack([dy + hh, hh - dy, dx + hw, hw - dx], 1).clamp(min=1.0)
    inside = (xx < size[:, 1, None, None] + 8) & (yy < size[:, 0, None, None] + 8)
    weight = (~ignore & inside).float()
    return heat.float(), weight, g(prim), (dist / 8).log(), torch.stack([g(ux), g(uy)], 1)


def detector_loss(out, t):
    heat, weight, prim, dist, turn = t
    out = out.float()
    p = torch.sigmoid(out[:, 0])
    ce = T.binary_cross_entropy_with_logits(out[:, 0], heat, reduction="none")
    focus = (p - heat).abs() ** 2
    n = heat.sum().clamp(min=1)
    l_heat = (ce * focus * weight).sum() / n * 2
    inter = (p * heat * weight).sum((1, 2))
    has = heat.flatten(1).any(1).float()
    dice = 1 - (2 * inter + 1) / ((p * p * weight).sum((1, 2)) + heat.sum((1, 2)) + 1)
    l_dice = (dice * has).sum() / has.sum().clamp(min=1)
    l_prim = (T.binary_cross_entropy_with_logits(out[:, 1], prim, reduction="none") * heat).sum() / n
    l_dist = (T.smooth_l1_loss(out[:, 2:6], dist, reduction="none", beta=0.1).mean(1) * heat).sum() / n
    l_turn = (T.smooth_l1_loss(out[:, 6:8], turn, reduction="none", beta=0.1).mean(1) * heat).sum() / n
    return l_heat + 0.5 * l_dice + 0.5 * l_prim + 2 * l_dist + 2 * l_turn, (l_heat, l_dice, l_prim, l_dist, l_turn)


def greedy(logits):
    """Reads the best path: a list of strings."""
    best = logits.argmax(1).cpu().numpy()
    out = []
    for row in best:
        prev, text = 0, ""
        for c in row:
            if c and c != prev:
                text += samples.ALPHABET[c - 1]
            prev = c
        out.append(text)
    return out


class Course:
    """The rate over time: a rise, then half a cosine down to nothing; and averaged weights. What has learnt before
    goes on at a third of the rate."""

    def __init__(self, net, rate, seconds, learnt=False):
        rate = rate / 3 if learnt else rate
        self.net, self.rate, self.seconds, self.start = net, rate, seconds, time.time()
        self.opt = torch.optim.AdamW(net.parameters(), lr=rate, weight_decay=1e-3)
        self.mean = torch.optim.swa_utils.AveragedModel(net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True)
        self.steps = 0

    def part(self):
        return (time.time() - self.start) / self.seconds

    def step(self, loss):
        f = min(1.0, self.part())
        lr = self.rate * (min(1.0, self.steps / 300) * 0.5 * (1 + np.cos(np.pi * f)) + 1e-3)
        for g in self.opt.param_groups:
            g["lr"] = lr
        self.opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), 5.0)
        self.opt.step()
        self.steps += 1
        if self.steps > 200:
            self.mean.update_parameters(self.net)


def learnt_before(net, name, args, device):
    """Loads what the state of an earlier run holds for a network, and tells whether it held any of its shape."""
    state = torch.load(args.start, map_location=device).get(name) if args.start else None
    if state is None or {k: v.shape for k, v in state.items()} != {k: v.shape for k, v in net.state_dict().items()}:
        return False
    net.load_state_dict(state)
    return True


def wait_for(deck, n):
    while True:
        deck.refresh()
        if len(deck.train) >= n:
            return
        time.sleep(0.5)


def train_detector(store, args, device, out):
    torch.manual_seed(args.seed)
    deck = Deck(store, 0, [store.tile, store.rows, store.size], HELD_TILES, device)
    net = nets.Detector().to(device)
    learnt = learnt_before(net, "detector", args, device)
    wait_for(deck, args.batch)
    c = Course(net, args.rate, args.seconds, learnt)
    cuda = device.type == "cuda"
    last = fresh = time.time()

    def prepare(b, wild):
        tile, rows, size = b
        x = tile.permute(0, 3, 1, 2).float() / 255
        keep = (torch.arange(TILE, device=device)[None, :] < size[:, :1])[:, None, :, None] & (torch.arange(TILE, device=device)[None, :] < size[:, 1:])[:, None, None, :]
        x = (shake(x) if wild else x) - 0.5
        return (x * keep).contiguous(memory_format=torch.channels_last), truth(rows, size)

    while c.part() < 1:
        x, t = prepare(deck.batch(args.batch), True)
        with torch.autocast(device.type, torch.bfloat16, enabled=cuda):
            y = net(x)
        loss, parts = detector_loss(y, t)
        c.step(loss)
        if time.time() - fresh > 4:
            deck.refresh()
            fresh = time.time()
        if time.time() - last > 30:
            last = time.time()
            print(f"detector {c.part():.2f} step {c.steps} of {len(deck.train)} tiles:", " ".join(f"{p.item():.4f}" for p in parts), flush=True)
    net = c.mean.module.eval()
    sums, n = np.zeros(5), 0
    with torch.no_grad():
        for idx in deck.test.split(64):
            x, t = prepare(deck.take(idx), False)
            _, parts = detector_loss(net(x), t)
            sums += [p.item() for p in parts]
            n += 1
    torch.save({"detector": net.state_dict()}, out)
    return {"detector": {"steps": c.steps, "tiles": len(deck.train), "held_out": len(deck.test), "loss": (sums / max(1, n)).round(5).tolist()}}


def train_reader(store, args, device, out):
    torch.manual_seed(args.seed + 1)
    deck = Deck(store, 1, [store.strip, store.width, store.label, store.length], HELD_STRIPS, device)
    net = nets.Reader().to(device)
    learnt = learnt_before(net, "reader", args, device)
    wait_for(deck, args.batch * 2)
    c = Course(net, args.rate, args.seconds, learnt)
    cuda = device.type == "cuda"
    last = fresh = time.time()

    def prepare(strip, width, wild):
        x = strip.permute(0, 3, 1, 2).float() / 255
        return nets.normalise_strip(shake(x) if wild else x, width).contiguous(memory_format=torch.channels_last)

    while c.part() < 1:
        strip, width, label, length = deck.batch(args.batch * 4)
        if c.steps % 3 == 0:
            # The reader cuts off the empty end of a strip; the network must not mind.
            wide = (112, 144, 192)[c.steps // 3 % 3]
            keep = (width <= wide).nonzero()[:args.batch, 0]
            if len(keep) == args.batch:
                strip, width, label, length = strip[keep][:, :, :wide + TAIL], width[keep], label[keep], length[keep]
        with torch.autocast(device.type, torch.bfloat16, enabled=cuda):
            y = net(prepare(strip, width, True))
        logp = y.float().log_softmax(1).permute(2, 0, 1)
        steps = torch.full((logp.shape[1],), logp.shape[0], dtype=torch.long, device=device)
        loss = T.ctc_loss(logp, label.long(), steps, length.long(), zero_infinity=True, reduction="none")
        loss = (loss / length.clamp(min=1)).mean()
        c.step(loss)
        if time.time() - fresh > 4:
            deck.refresh()
            fresh = time.time()
        if time.time() - last > 30:
            last = time.time()
            print(f"reader {c.part():.2f} step {c.steps} of {len(deck.train)} strips: {loss.item():.4f}", flush=True)
    net = c.mean.module.eval()
    right = total = 0
    with torch.no_grad():
        for idx in deck.test.split(256):
            strip, width, label, length = deck.take(idx)
            got = greedy(net(prepare(strip, width, False)))
            want = ["".join(samples.ALPHABET[k - 1] for k in row[:n]) for row, n in zip(label.cpu().numpy(), length.cpu().numpy())]
            right += sum(a == b for a, b in zip(got, want))
            total += len(got)
    torch.save({"reader": net.state_dict()}, out)
    return {"reader": {"steps": c.steps, "strips": len(deck.train), "held_out": total, "exact": right / max(1, total)}}


def mark_maps(marks):
    """Turns marks (B, MARKS, 6) into the finder's maps at a quarter of the size: mark, weight, log distances."""
    b, d = marks.shape[0], marks.device
    yy, xx = torch.meshgrid((torch.arange(AREA_H // 4, device=d) + 0.5) * 4, (torch.arange(AREA_W // 4, device=d) + 0.5) * 4, indexing="ij")
    x0, y0, x1, y1, state = (marks[:, :, i, None, None] for i in range(5))
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    core = ((xx - cx).abs() < (0.3 * (x1 - x0)).clamp(min=2.2)) & ((yy - cy).abs() < (0.3 * (y1 - y0)).clamp(min=2.2))
    near = (xx > x0 - 3) & (xx < x1 + 3) & (yy > y0 - 3) & (yy < y1 + 3)
    heat = (core & (state == 1)).any(1)
    ignore = ((near & (state == 1)).any(1) & ~heat) | (near & (state == 2)).any(1)
    owner = torch.where(core & (state == 1), (xx - cx).abs() + (yy - cy).abs(), torch.full_like(near, 1e9, dtype=torch.float32)).argmin(1, keepdim=True)
    g = lambda t: t.expand(b, MARKS, *xx.shape).gather(1, owner)[:, 0]
    dist = torch.stack([xx - g(x0), yy - g(y0), g(x1) - xx, g(y1) - yy], 1).clamp(min=1.0)
    return heat.float(), (~ignore).float(), (dist / 8).log()


def train_finder(store, args, device, out):
    torch.manual_seed(args.seed + 2)
    deck = Deck(store, 2, [store.area, store.half, store.marks], HELD_AREAS, device)
    net = nets.Finder().to(device)
    learnt = learnt_before(net, "finder", args, device)
    wait_for(deck, args.batch)
    c = Course(net, args.rate, args.seconds, learnt)
    cuda = device.type == "cuda"
    last = fresh = time.time()

    def prepare(b, wild):
        area, half, marks = b
        x = area.permute(0, 3, 1, 2).float() / 255
        x = nets.normalise_strip(shake(x) if wild else x, torch.full((x.shape[0],), AREA_W, device=device))
        return nets.with_row(x, half).contiguous(memory_format=torch.channels_last), mark_maps(marks)

    def loss_of(y, t):
        heat, weight, dist = t
        y = y.float()
        p, n = torch.sigmoid(y[:, 0]), heat.sum().clamp(min=1)
        ce = T.binary_cross_entropy_with_logits(y[:, 0], heat, reduction="none")
        return (ce * (p - heat).abs() ** 1.5 * weight).sum() / n, (T.smooth_l1_loss(y[:, 1:], dist, reduction="none", beta=0.1).mean(1) * heat).sum() / n

    while c.part() < 1:
        x, t = prepare(deck.batch(args.batch), True)
        with torch.autocast(device.type, torch.bfloat16, enabled=cuda):
            y = net(x)
        parts = loss_of(y, t)
        c.step(parts[0] + parts[1])
        if time.time() - fresh > 4:
            deck.refresh()
            fresh = time.time()
        if time.time() - last > 30:
            last = time.time()
            print(f"finder {c.part():.2f} step {c.steps} of {len(deck.train)} neighbourhoods:", " ".join(f"{p.item():.4f}" for p in parts), flush=True)
    net = c.mean.module.eval()
    seen = []
    with torch.no_grad():
        for idx in deck.test.split(64):
            b = deck.take(idx)
            x, _ = prepare(b, False)
            heat = torch.sigmoid(net(x)[:, 0]).flatten(1)
            at = heat.argmax(1)
            px, py = (at % (AREA_W // 4) + 0.5) * 4, (at // (AREA_W // 4) + 0.5) * 4
            m = b[2]
            hit = ((px[:, None] > m[:, :, 0] - 2) & (px[:, None] < m[:, :, 2] + 2) & (py[:, None] > m[:, :, 1] - 2) & (py[:, None] < m[:, :, 3] + 2) & (m[:, :, 4] == 1)).any(1)
            there, unknown = (m[:, :, 4] == 1).any(1), (m[:, :, 4] == 2).any(1)
            seen += [(h.item(), k.item(), t.item()) for h, k, t, u in zip(heat.max(1).values, hit, there, unknown) if not u]
    torch.save({"finder": net.state_dict()}, out)
    sure = [s for s in seen if s[0] > 0.5]
    return {"finder": {"steps": c.steps, "neighbourhoods": len(deck.train), "held_out": len(seen), "with_a_mark": sum(s[2] for s in seen),
                       "found": sum(s[1] for s in sure), "wrong": sum(not s[1] for s in sure)}}


def train_unit(store, args, device, out):
    torch.manual_seed(args.seed + 3)
    deck = Deck(store, 3, [store.patch, store.cls], HELD_PATCHES, device)
    net = nets.Unit().to(device)
    learnt = learnt_before(net, "unit", args, device)
    wait_for(deck, args.batch * 4)
    c = Course(net, args.rate, args.seconds, learnt)
    cuda = device.type == "cuda"
    last = fresh = time.time()

    def prepare(u, wild):
        x = u.permute(0, 3, 1, 2).float() / 255
        return nets.normalise_patch(shake(x) if wild else x).contiguous(memory_format=torch.channels_last)

    while c.part() < 1:
        u, k = deck.batch(args.batch * 4)
        with torch.autocast(device.type, torch.bfloat16, enabled=cuda):
            z = net(prepare(u, True))
        loss = T.cross_entropy(z.float(), k.long(), label_smoothing=0.01)
        c.step(loss)
        if time.time() - fresh > 4:
            deck.refresh()
            fresh = time.time()
        if time.time() - last > 30:
            last = time.time()
            print(f"unit {c.part():.2f} step {c.steps} of {len(deck.train)} patches: {loss.item():.4f}", flush=True)
    net = c.mean.module.eval()
    right = total = told = sure = 0
    with torch.no_grad():
        for idx in deck.test.split(256):
            u, k = deck.take(idx)
            p, best = net(prepare(u, False)).softmax(1).max(1)
            right += (best == k).sum().item()
            mass = (best > 0) & (best < 6) & (p > 0.9)
            told += mass.sum().item()
            sure += (mass & (best == k)).sum().item()
            total += len(k)
    torch.save({"unit": net.state_dict()}, out)
    return {"unit": {"steps": c.steps, "patches": len(deck.train), "held_out": total, "right": right / max(1, total), "masses_told": told, "of_them_right": sure}}


def trainer(fn, store, args, index, out, queue):
    try:
        torch.set_num_threads(2)
        gpus = torch.cuda.device_count()
        device = torch.device(f"cuda:{index % gpus}" if gpus else "cpu")
        torch.backends.cudnn.benchmark = True
        queue.put(fn(store, args, device, out))
    except BaseException as e:
        import traceback
        traceback.print_exc()
        queue.put({fn.__name__: f"failed: {e}"})


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--seconds", type=float, default=520)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--rate", type=float, default=2e-3)
    p.add_argument("--batch", type=int, default=64)
    p.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 2))
    p.add_argument("--tiles", type=int, default=130_000, help="most tiles kept in memory (0.44 MB each)")
    p.add_argument("--strips", type=int, default=800_000, help="most strips kept (68 kB each)")
    p.add_argument("--areas", type=int, default=80_000, help="most neighbourhoods kept (190 kB each with their patches)")
    p.add_argument("--shares", type=float, nargs=3, default=(0.35, 0.35, 0.3), help="of whole scenes (tiles and strips), close pictures (strips), close pictures with a mark")
    p.add_argument("--nets", nargs="+", default=["detector", "reader", "finder", "unit"], help="the networks to train; the others stay as --start has them")
    p.add_argument("--start", help="training state to go on from")
    p.add_argument("--out", default="weights.bin")
    args = p.parse_args()
    w = args.workers
    store = Store(w, args.tiles // w, args.strips // w, args.areas // w)
    fork = mp.get_context("fork")
    renderers = [fork.Process(target=render, args=(store, i, args.seed, args.shares), daemon=True) for i in range(w)]
    for r in renderers:
        r.start()
    queue = fork.Queue()
    parts = [f"{args.out}.{k}.tmp" for k in args.nets]
    work = {"detector": train_detector, "reader": train_reader, "finder": train_finder, "unit": train_unit}
    trainers = [fork.Process(target=trainer, args=(work[k], store, args, i, parts[i], queue)) for i, k in enumerate(args.nets)]
    for t in trainers:
        t.start()
    report = {"seed": args.seed, "seconds": args.seconds, "workers": w}
    for _ in trainers:
        report.update(queue.get())
    store.stop[0] = 1
    report["rendered"] = store.count.sum(0).tolist()
    for t in trainers:
        t.join()
    state = torch.load(args.start, map_location="cpu") if args.start else {}
    state |= {k: v for p in parts for k, v in torch.load(p, map_location="cpu").items()}
    torch.save(state, args.out + ".state.tmp")
    built = nets.built()
    for k, n in built.items():
        # A network that no run has trained is written as it began.
        if k in state:
            n.load_state_dict(state[k])
        n.eval()
    nets.write_weights(args.out, built)
    for part in parts:
        os.remove(part)
    print(json.dumps(report), flush=True)


if __name__ == "__main__":
    main()
