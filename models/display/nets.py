"""The four networks, small enough to be run by hand-written Rust (`display/src/net.rs`).

Each convolution is followed by batch normalisation (folded away on export) and ReLU, but for the last.
"""

import struct

import numpy as np
import torch
from torch import nn
from torch.nn import functional as T

import face
import samples

MAGIC = b"VARVELD1"
EDGE = 17  # pixels of a strip's rim, about its margin


class Conv(nn.Sequential):
    def __init__(self, i, o, k=3, s=1, pad=None, act=True):
        k = (k, k) if isinstance(k, int) else k
        pad = (k[0] // 2, k[1] // 2) if pad is None else pad
        layers = [nn.Conv2d(i, o, k, s, pad, bias=not act)]
        if act:
            layers += [nn.BatchNorm2d(o), nn.ReLU(inplace=True)]
        super().__init__(*layers)

    def folded(self):
        """Returns weight and bias with the normalisation folded in."""
        c = self[0]
        if len(self) == 1:
            return c.weight.detach(), c.bias.detach()
        b = self[1]
        g = b.weight / torch.sqrt(b.running_var + b.eps)
        return (c.weight * g[:, None, None, None]).detach(), (b.bias - b.running_mean * g).detach()


class Detector(nn.Module):
    """Where rows of digits lie: at a quarter of the size, eight maps (row, reading, four distances, direction)."""

    def __init__(self):
        super().__init__()
        self.c0, self.c1, self.c2 = Conv(3, 16, s=2), Conv(16, 32, s=2), Conv(32, 32)
        self.c3, self.c4 = Conv(32, 64, s=2), Conv(64, 64)
        self.c5, self.c6, self.c7 = Conv(64, 96, s=2), Conv(96, 96), Conv(96, 96)
        self.c8, self.c9 = Conv(96, 128, s=2), Conv(128, 128)
        self.u1, self.c10 = Conv(128, 96, 1), Conv(96, 96)
        self.u2, self.c11 = Conv(96, 64, 1), Conv(64, 64)
        self.u3, self.c12, self.c13 = Conv(64, 32, 1), Conv(32, 48), Conv(48, 48)
        self.head = Conv(48, 8, 1, act=False)

    def forward(self, x):
        up = lambda t: T.interpolate(t, scale_factor=2, mode="nearest")
        s4 = self.c1(self.c0(x))
        s4 = s4 + self.c2(s4)
        s8 = self.c3(s4)
        s8 = s8 + self.c4(s8)
        s16 = self.c6(self.c5(s8))
        s16 = s16 + self.c7(s16)
        s32 = self.c8(s16)
        s32 = s32 + self.c9(s32)
        a = self.c10(s16 + up(self.u1(s32)))
        b = self.c11(s8 + up(self.u2(a)))
        c = self.c12(s4 + up(self.u3(b)))
        return self.head(c + self.c13(c))


class Reader(nn.Module):
    """What a strip says: a step each four columns, of (blank, digits, point, colon, minus)."""

    def __init__(self):
        super().__init__()
        self.r0, self.r1 = Conv(3, 24, s=2), Conv(24, 48)
        self.r2, self.r3 = Conv(48, 96), Conv(96, 96)
        self.r4, self.r5 = Conv(96, 128), Conv(128, 128)
        self.r6 = Conv(128, 192, (8, 1), pad=(0, 0))
        self.r7, self.r8 = Conv(192, 192, (1, 5)), Conv(192, 192, (1, 5))
        self.head = Conv(192, len(samples.ALPHABET) + 1, 1, act=False)

    def forward(self, x):
        x = T.max_pool2d(self.r1(self.r0(x)), 2)
        x = self.r2(x)
        x = T.max_pool2d(x + self.r3(x), (2, 1))
        x = self.r4(x)
        x = self.r6(x + self.r5(x))
        x = x + self.r7(x)
        x = x + self.r8(x)
        return self.head(x)[:, :, 0, :]


class Finder(nn.Module):
    """Where a row's unit mark stands: at a quarter of the size, five maps (mark, distances to left, top, right, foot).

    The fourth plane in tells which row is meant: 1 within it."""

    def __init__(self):
        super().__init__()
        self.m0, self.m1, self.m2 = Conv(4, 16, s=2), Conv(16, 32, s=2), Conv(32, 32)
        self.m3, self.m4 = Conv(32, 48, s=2), Conv(48, 48)
        self.m5, self.m6 = Conv(48, 48, s=2), Conv(48, 48)
        self.v1, self.m7 = Conv(48, 48, 1), Conv(48, 48)
        self.v2, self.m8 = Conv(48, 32, 1), Conv(32, 32)
        self.head = Conv(32, 5, 1, act=False)

    def forward(self, x):
        up = lambda t: T.interpolate(t, scale_factor=2, mode="nearest")
        s4 = self.m1(self.m0(x))
        s4 = s4 + self.m2(s4)
        s8 = self.m3(s4)
        s8 = s8 + self.m4(s8)
        s16 = self.m5(s8)
        s16 = s16 + self.m6(s16)
        a = self.m7(s8 + up(self.v1(s16)))
        b = self.m8(s4 + up(self.v2(a)))
        return self.head(b)


class Unit(nn.Module):
    """Which unit a mark is, seen close."""

    def __init__(self):
        super().__init__()
        self.n0, self.n1, self.n2 = Conv(3, 16), Conv(16, 32, s=2), Conv(32, 32)
        self.n3, self.n4 = Conv(32, 64, s=2), Conv(64, 64)
        self.n5, self.n6 = Conv(64, 64, s=2), Conv(64, 32, 1)
        self.n7 = Conv(32, 64, (4, 8), pad=(0, 0))
        self.head = Conv(64, len(face.UNIT_CLASSES), 1, act=False)

    def forward(self, x):
        x = self.n1(self.n0(x))
        x = self.n3(x + self.n2(x))
        x = self.n5(x + self.n4(x))
        return self.head(self.n7(self.n6(x)))[:, :, 0, 0]


def normalise_patch(x):
    """Takes the mean colour and the contrast out of patches (B, 3, H, W)."""
    d = x - x.mean((2, 3), keepdim=True)
    return (d / (torch.sqrt((d * d).mean((1, 2, 3), keepdim=True) + 1e-8) + 3 / 255)).clamp(-4, 4)


def with_row(x, half):
    """Adds to neighbourhoods (B, 3, H, W) the plane that is 1 within the row, `half` its half width in pixels."""
    h, w = x.shape[2:]
    yy = torch.arange(h, device=x.device)[:, None] + 0.5 - h / 2
    xx = torch.arange(w, device=x.device)[None, :] + 0.5 - w / 2
    row = (yy.abs() < h / samples.AREA_Y / 2)[None] & (xx.abs()[None] < half[:, None, None])
    return torch.cat([x, row[:, None].to(x.dtype)], 1)


def normalise_strip(x, width):
    """Takes the mean colour and the contrast out of strips (B, 3, H, W); what lies beyond the width is 0.

    Both are measured in the middle, where the digits are: what lies about the display may be far brighter."""
    columns = torch.arange(x.shape[3], device=x.device)[None, :]
    keep = (columns < width[:, None]).to(x.dtype)[:, None, None, :]
    edge = torch.where(width > 3 * EDGE, EDGE, 0)
    inner = ((columns >= edge[:, None]) & (columns < (width - edge)[:, None])).to(x.dtype)[:, None, None, :]
    rows = torch.zeros(x.shape[2], device=x.device, dtype=x.dtype)
    rows[EDGE - 4:x.shape[2] - EDGE + 4] = 1
    inner = inner * rows[None, None, :, None]
    n = inner.sum((2, 3), keepdim=True)
    mean = (x * inner).sum((2, 3), keepdim=True) / n
    d = x - mean
    std = torch.sqrt((d * d * inner).sum((1, 2, 3), keepdim=True) / (3 * n) + 1e-8)
    return (d / (std + 3 / 255)).clamp(-4, 4) * keep


def built():
    """Returns the four networks, untrained, in the order of the weights file."""
    return {"detector": Detector(), "reader": Reader(), "finder": Finder(), "unit": Unit()}


def write_weights(path, nets):
    """Writes the folded weights, 16-bit floats, little end first.

    After the magic, a count, then for each array: length of name (u16), name, number of axes (u8), axes (u32), values."""
    arrays = []
    for prefix, net in nets.items():
        for name, m in net.named_modules():
            if isinstance(m, Conv):
                w, b = m.folded()
                arrays += [(f"{prefix}.{name}.w", w), (f"{prefix}.{name}.b", b)]
    with open(path, "wb") as f:
        f.write(MAGIC + struct.pack("<I", len(arrays)))
        for name, a in arrays:
            a = a.float().cpu().numpy()
            f.write(struct.pack("<H", len(name)) + name.encode() + struct.pack("<B", a.ndim) + struct.pack(f"<{a.ndim}I", *a.shape))
            f.write(a.astype("<f2").tobytes())


def read_weights(path):
    """Reads what `write_weights` wrote."""
    data = open(path, "rb").read()
    assert data[:8] == MAGIC
    (n,), at, out = struct.unpack_from("<I", data, 8), 12, {}
    for _ in range(n):
        (k,) = struct.unpack_from("<H", data, at)
        name = data[at + 2:at + 2 + k].decode()
        at += 2 + k
        axes = struct.unpack_from(f"<{data[at]}I", data, at + 1)
        at += 1 + 4 * data[at]
        size = int(np.prod(axes))
        out[name] = np.frombuffer(data, "<f2", size, at).astype(np.float32).reshape(axes)
        at += 2 * size
    return out


def load(path):
    """Builds the networks with the weights of a file, normalisation already folded."""
    arrays, nets = read_weights(path), built()
    for prefix, net in nets.items():
        for name, m in net.named_modules():
            if isinstance(m, Conv):
                c = m[0]
                c.weight.data = torch.from_numpy(arrays[f"{prefix}.{name}.w"].copy())
                c.bias = nn.Parameter(torch.from_numpy(arrays[f"{prefix}.{name}.b"].copy()))
                if len(m) > 1:
                    m[1] = nn.Identity()
        net.eval()
    return nets
