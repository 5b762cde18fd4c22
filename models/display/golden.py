"""Writes what each layer gives for a fixed input, so that the Rust networks can be checked against these.

    python golden.py weights.bin golden.json
"""

import json
import sys

import torch

import nets


def pattern(planes, h, w):
    """The fixed input: a whole-number pattern, -0.5 to 0.5."""
    c, y, x = torch.meshgrid(torch.arange(planes), torch.arange(h), torch.arange(w), indexing="ij")
    return (((c * 7 + y * 13 + x * 29 + x * y) % 64).float() / 64 - 0.5)[None]


def main():
    out = {}
    for (name, net), (planes, h, w) in zip(nets.load(sys.argv[1]).items(), [(3, 64, 96), (3, 64, 352), (4, 144, 384), (3, 32, 64)]):
        seen = {}
        for layer, m in net.named_modules():
            if isinstance(m, nets.Conv):
                m.register_forward_hook(lambda m, i, o, layer=layer: seen.__setitem__(layer, o.detach()[0]))
        with torch.no_grad():
            y = net(pattern(planes, h, w))[0]
        layers = {k: {"shape": list(v.shape), "mean_abs": v.abs().mean().item(), "values": [v.flatten()[i].item() for i in torch.linspace(0, v.numel() - 1, 7).long()]}
                  for k, v in seen.items()}
        out[name] = {"input": [planes, h, w], "layers": layers, "output": [round(v, 5) for v in y.flatten()[:: max(1, y.numel() // 400)].tolist()]}
    json.dump(out, open(sys.argv[2], "w"), indent=0)


if __name__ == "__main__":
    main()
