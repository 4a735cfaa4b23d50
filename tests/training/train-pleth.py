"""Trains the two hold networks on practice sessions (SIMULATED) and writes their weights as a TypeScript file.

Run: python3 train.py later|live TRAIN.bin VALIDATION.bin OUT.ts [EPOCHS [BEGIN_WITH.ts]]   (Debian: python3-torch, python3-numpy)
later: convolutions look both ways; trained as a linear-chain conditional random field (Lafferty 2001), so that its
posteriors are calibrated. live: convolutions look back only; trained on the state of each row by cross-entropy.
"""
import base64
import random
import re
import struct
import sys
import time

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

FEATURES = 24
WIDTH = 32
DILATIONS = (1, 2, 4, 8, 16, 32, 64, 128)


def read_sessions(path, live):
    data = open(path, "rb").read()
    at = 0
    sessions = []
    while at < len(data):
        (rows,) = struct.unpack_from("<i", data, at)
        at += 4
        size = rows * FEATURES
        later = np.frombuffer(data, np.float32, size, at)
        stream = np.frombuffer(data, np.float32, size, at + 4 * size)
        held = np.frombuffer(data, np.uint8, rows, at + 8 * size)
        at += 8 * size + rows
        x = (stream if live else later).reshape(rows, FEATURES)
        sessions.append((torch.from_numpy(x.T.copy()), torch.from_numpy(held.astype(np.int64))))
    return sessions


class HoldNetwork(nn.Module):
    """Residual stack of dilated convolutions of three taps; the numbers a row gets come out at the end."""

    def __init__(self, live, outputs):
        super().__init__()
        self.live = live
        self.first = nn.Conv1d(FEATURES, WIDTH, 1)
        self.taps = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, 3, dilation=d) for d in DILATIONS)
        self.mixes = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, 1) for _ in DILATIONS)
        self.last = nn.Conv1d(WIDTH, outputs, 1)

    def forward(self, x, mask):
        # Outside the session there is nothing, as hold-network.ts has it.
        mask = mask.unsqueeze(1)
        x = torch.relu(self.first(x)) * mask
        for dilation, taps, mix in zip(DILATIONS, self.taps, self.mixes):
            pad = (2 * dilation, 0) if self.live else (dilation, dilation)
            x = (x + mix(torch.relu(taps(F.pad(x, pad))))) * mask
        return self.last(torch.relu(x))


def log_partition(u, a, b, mask):
    # States: breathing, holding. u: row held; a: first held row; b: first row breathed again. The rows' 2 x 2 transition
    # matrices are multiplied in pairs, then pairs of pairs: a dozen steps for a thousand rows.
    zero = torch.zeros_like(u)
    never = torch.full_like(u, -1e4)
    on = mask > 0
    steps = torch.stack([zero, torch.where(on, a + u, never), torch.where(on, b, never), torch.where(on, u, zero)], -1)
    first = u[:, 0]
    steps = steps[:, 1:]
    while steps.shape[1] > 1:
        if steps.shape[1] % 2:
            same = torch.tensor([0.0, -1e4, -1e4, 0.0]).expand(steps.shape[0], 1, 4)
            steps = torch.cat([steps, same], 1)
        l, r = steps[:, 0::2], steps[:, 1::2]
        bb = torch.logaddexp(l[..., 0] + r[..., 0], l[..., 1] + r[..., 2])
        bh = torch.logaddexp(l[..., 0] + r[..., 1], l[..., 1] + r[..., 3])
        hb = torch.logaddexp(l[..., 2] + r[..., 0], l[..., 3] + r[..., 2])
        hh = torch.logaddexp(l[..., 2] + r[..., 1], l[..., 3] + r[..., 3])
        steps = torch.stack([bb, bh, hb, hh], -1)
    bb, bh, hb, hh = steps[:, 0].unbind(-1)
    return torch.logsumexp(torch.stack([bb, bh, first + hb, first + hh], -1), -1)


def field_loss(out, held, mask):
    u, a, b = out[:, 0], out[:, 1], out[:, 2]
    before = F.pad(held[:, :-1], (1, 0))
    first = torch.zeros_like(held)
    first[:, 0] = 1
    inside = (held * mask) * u
    starts = (held * (1 - before) * mask * (1 - first)) * a
    ends = ((1 - held) * before * mask * (1 - first)) * b
    score = (inside + starts + ends).sum(1)
    return (log_partition(u, a, b, mask) - score).sum() / 100


def batches(sessions, rows_each):
    order = sorted(range(len(sessions)), key=lambda i: sessions[i][1].shape[0] * (1 + 0.1 * random.random()))
    groups, group = [], []
    for i in order:
        group.append(i)
        if len(group) * sessions[i][1].shape[0] > rows_each:
            groups.append(group)
            group = []
    if group:
        groups.append(group)
    random.shuffle(groups)
    return groups


def collate(sessions, group):
    longest = max(sessions[i][1].shape[0] for i in group)
    x = torch.zeros(len(group), FEATURES, longest)
    held = torch.zeros(len(group), longest)
    mask = torch.zeros(len(group), longest)
    for k, i in enumerate(group):
        n = sessions[i][1].shape[0]
        x[k, :, :n] = sessions[i][0]
        held[k, :n] = sessions[i][1]
        mask[k, :n] = 1
    return x, held, mask


def loss_of(model, batch):
    x, held, mask = batch
    out = model(x, mask)
    if model.live:
        return (F.binary_cross_entropy_with_logits(out[:, 0], held, reduction="none") * mask).sum() / 100
    return field_loss(out, held, mask)


def write_weights(model, path, name):
    numbers = []
    for layer in [model.first, *[l for pair in zip(model.taps, model.mixes) for l in pair], model.last]:
        # out x in x taps -> out, tap, in
        numbers.append(layer.weight.detach().permute(0, 2, 1).reshape(-1))
        numbers.append(layer.bias.detach().reshape(-1))
    parts = []
    for tensor in numbers:
        size = float(tensor.abs().max()) or 1.0
        ints = torch.round(tensor / size * 32767).to(torch.int16).numpy().astype("<i2")
        parts.append((size, base64.b64encode(ints.tobytes()).decode()))
    with open(path, "w") as out:
        out.write("// Weights of a hold network, made by tests/training/train.py. Not written by hand.\n\n")
        out.write("/** Layer by layer, weights then biases: scale and 16-bit integers, little-endian, base64. */\n")
        out.write(f"export const {name}: readonly (readonly [scale: number, integers: string])[] = [\n")
        for size, text in parts:
            out.write(f"  [{size!r}, '{text}'],\n")
        out.write("];\n")


def read_weights(model, path):
    rows = re.findall(r"(?:\[|\n)\s*([0-9.e-]+),\s*'([^']+)'", open(path).read())
    layers = [model.first, *[l for pair in zip(model.taps, model.mixes) for l in pair], model.last]
    tensors = [tensor for layer in layers for tensor in (layer.weight, layer.bias)]
    assert len(rows) == len(tensors)
    with torch.no_grad():
        for (size, text), tensor in zip(rows, tensors):
            values = torch.from_numpy(np.frombuffer(base64.b64decode(text), "<i2").astype(np.float32)) * (float(size) / 32767)
            if tensor.dim() == 3:
                out, inputs, taps = tensor.shape
                tensor.copy_(values.reshape(out, taps, inputs).permute(0, 2, 1))
            else:
                tensor.copy_(values)


def main():
    kind, train_path, check_path, out_path = sys.argv[1:5]
    epochs = int(sys.argv[5]) if len(sys.argv) > 5 else 30
    begin_with = sys.argv[6] if len(sys.argv) > 6 else None
    live = kind == "live"
    random.seed(1)
    torch.manual_seed(1)
    torch.set_num_threads(1)
    train = read_sessions(train_path, live)
    check = read_sessions(check_path, live)
    model = HoldNetwork(live, 1 if live else 3)
    if begin_with is not None:
        read_weights(model, begin_with)
    optimiser = torch.optim.AdamW(model.parameters(), lr=3e-3, weight_decay=1e-4)
    steps = epochs * len(batches(train, 24_000))
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, 4e-3 if begin_with is None else 1.5e-3, total_steps=steps + epochs, pct_start=0.1)
    began = time.time()
    for epoch in range(epochs):
        model.train()
        total = rows = 0.0
        for group in batches(train, 24_000):
            batch = collate(train, group)
            loss = loss_of(model, batch)
            optimiser.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(model.parameters(), 20.0)
            optimiser.step()
            if schedule.last_epoch < steps + epochs - 1:
                schedule.step()
            total += float(loss)
            rows += float(batch[2].sum())
        model.eval()
        with torch.no_grad():
            checks = [collate(check, group) for group in batches(check, 24_000)]
            missed = sum(float(loss_of(model, batch)) for batch in checks) / sum(float(b[2].sum()) for b in checks)
        print(f"{epoch} train {100_000 * total / rows:.2f} check {100_000 * missed:.2f} ({time.time() - began:.0f} s)", flush=True)
        write_weights(model, out_path, "liveWeights" if live else "laterWeights")


main()
