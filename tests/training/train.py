"""Trains the hold networks on practice sessions drawn beside it (practice.cpp, SIMULATED and half-real) and writes weights as TypeScript.

Run: python3 train.py RECORDINGS.bin OUT_FOLDER STEPS|for:SECONDS [SEED [BEGIN_WITH_FOLDER]]      (PyTorch; a GPU if there is one; g++)
OTHERS=SHARE: of the invented sessions so many in the worlds of other authors (0.6 if left out).
smoothing: convolutions look both ways; a linear-chain conditional random field (Lafferty 2001), so that its posteriors are
calibrated. live: convolutions look back only; cross-entropy on the state of each row. Two more of each kind go without half
of the real people, for cross-validation. Weights are averaged over the last tenth or so of
the way (exponential moving average).
"""
import base64
import ctypes
import math
import os
import re
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

FEATURES = 24
DILATIONS = (1, 2, 4, 8, 16, 32, 64, 128, 256)
WIDTHS = {"smoothing": 48, "live": 40}
BATCH_ROWS = 45_000
LENGTHS = (320, 704, 1408)
#: Subjects of the real trials that each fold leaves out. A fold also leaves out half of the people who breathe throughout.
FOLDS = ({1, 5, 9, 13, 17}, {3, 7, 11, 15, 19})
#: Share of the drawn sessions that have a recorded background.
RECORDED = 0.3
#: Share of the invented sessions in the worlds of other authors (worlds/).
OTHERS = float(os.environ.get("OTHERS", "0.6"))
HERE = os.path.dirname(os.path.abspath(__file__))


def load_library():
    target = os.path.join(os.environ.get("TMPDIR", "/tmp"), "libpractice.so")
    subprocess.check_call(
        ["g++", "-O3", "-march=x86-64-v3", "-ffast-math", "-fno-finite-math-only", "-fPIC", "-shared", "-std=c++17",
         os.path.join(HERE, "practice.cpp"), "-o", target])
    return ctypes.CDLL(target)


def pointer(array):
    return array.ctypes.data_as(ctypes.c_void_p)


class Recordings:
    """Backgrounds by set, and the real trials by subject (rows of 5 numbers, labels)."""

    def __init__(self, path):
        data = open(path, "rb").read()
        backgrounds, sets, halves, self.trials, at = [], [], [], [], 0
        while at < len(data):
            ident, rows = np.frombuffer(data, np.int32, 2, at)
            numbers = np.frombuffer(data, np.float32, 5 * rows, at + 8)
            held = np.frombuffer(data, np.uint8, rows, at + 8 + 20 * rows)
            at += 8 + 21 * int(rows)
            if ident >= 0:
                backgrounds.append(numbers)
                sets.append(int(ident) // 2)
                halves.append(int(ident) % 2)
            else:
                self.trials.append((-1 - int(ident), numbers, held))
        self.rows = np.ascontiguousarray(np.concatenate(backgrounds))
        self.starts = np.concatenate([[0], np.cumsum([len(b) // 5 for b in backgrounds])]).astype(np.int32)
        #: Which half of the people each background belongs to; the last entry (index -1) stands for invented sessions.
        self.halves = np.array([*halves, -1])
        # Every set comes about as often as the root of its length: a long night is one person all the same.
        hours = {s: sum(len(b) for b, of in zip(backgrounds, sets) if of == s) ** 0.5 for s in set(sets)}
        order = []
        for s in sorted(set(sets)):
            members = [i for i, of in enumerate(sets) if of == s]
            times = max(1, round(1000 * hours[s] / sum(hours.values()) / len(members)))
            order += members * times
        self.order = np.array(order, np.int32)


class Source:
    """Draws batches ahead on all processors, in order, so that a seed gives the same training."""

    def __init__(self, library, recordings, live, seed, share, workers):
        self.library, self.recordings, self.live, self.seed, self.share = library, recordings, live, seed, share
        self.pool = ThreadPoolExecutor(workers)
        self.ahead = 3 * workers
        self.queue, self.next = [], 0

    def draw(self, index):
        length = LENGTHS[(0, 1, 2, 1, 2)[index % 5]]
        count = max(8, BATCH_ROWS // length)
        x = np.empty((count, FEATURES, length), np.float32)
        held = np.empty((count, length), np.uint8)
        lengths, which = np.empty(count, np.int32), np.empty(count, np.int32)
        r = self.recordings
        self.library.draw(ctypes.c_uint64(self.seed * 1_000_000_000 + index * 1_000), count, length, int(self.live), pointer(x),
                          pointer(held), pointer(lengths), pointer(r.rows), pointer(r.starts), pointer(r.order), len(r.order),
                          ctypes.c_double(self.share), ctypes.c_double(OTHERS), pointer(which))
        return x, held, lengths, r.halves[which]

    def take(self):
        while len(self.queue) < self.ahead:
            self.queue.append(self.pool.submit(self.draw, self.next))
            self.next += 1
        return self.queue.pop(0).result()


def on_device(batch, device):
    x, held, lengths, halves = batch
    x = torch.from_numpy(x).to(device)
    held = torch.from_numpy(held).to(device).float()
    mask = (torch.arange(x.shape[2], device=device)[None] < torch.from_numpy(lengths).to(device)[:, None]).float()
    return x, held, mask, torch.from_numpy(halves).to(device)


class Trials:
    """The real trials as features, drawn at random; of some subjects only."""

    def __init__(self, library, recordings, live, without, device):
        chosen = [t for t in recordings.trials if t[0] not in without]
        longest = max(len(held) for _, _, held in chosen)
        x = np.zeros((len(chosen), FEATURES, longest), np.float32)
        held = np.zeros((len(chosen), longest), np.uint8)
        lengths = np.zeros(len(chosen), np.int32)
        for i, (_, numbers, labels) in enumerate(chosen):
            n = len(labels)
            plane = np.empty((FEATURES, n), np.float32)
            library.features(pointer(np.ascontiguousarray(numbers)), n, int(live), pointer(plane))
            x[i, :, :n], held[i, :n], lengths[i] = plane, labels, n
        self.x, self.held, self.mask, _ = on_device((x, held, lengths, np.full(len(chosen), -1)), device)

    def take(self, generator, count):
        at = torch.randint(len(self.x), (count,), generator=generator).to(self.x.device)
        return self.x[at], self.held[at], self.mask[at]


class HoldNetwork(nn.Module):
    """Residual stack of dilated convolutions of three taps; the numbers a row gets come out at the end."""

    def __init__(self, live, features=FEATURES, width=None):
        super().__init__()
        self.live = live
        width = width or WIDTHS["live" if live else "smoothing"]
        self.first = nn.Linear(features, width)
        # Taps oldest first, each with all its inputs: one product a layer, which a GPU does far faster than a convolution.
        self.taps = nn.ModuleList(nn.Linear(3 * width, width) for _ in DILATIONS)
        self.mixes = nn.ModuleList(nn.Linear(width, width) for _ in DILATIONS)
        self.last = nn.Linear(width, 1 if live else 3)

    def forward(self, x, mask):
        """x: session x feature x row. Returns session x output x row."""
        # Outside the session there is nothing, as hold-network.ts has it.
        mask = mask.unsqueeze(2)
        x = torch.relu(self.first(x.transpose(1, 2))) * mask
        rows = x.shape[1]
        for dilation, taps, mix in zip(DILATIONS, self.taps, self.mixes):
            before, after = (2 * dilation, 0) if self.live else (dilation, dilation)
            padded = F.pad(x, (0, 0, before, after))
            seen = torch.cat([padded[:, k * dilation:k * dilation + rows] for k in range(3)], 2)
            x = (x + mix(torch.relu(taps(seen)))) * mask
        return self.last(torch.relu(x)).transpose(1, 2)

    def layers(self):
        return [self.first, *[l for pair in zip(self.taps, self.mixes) for l in pair], self.last]


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
            # The matrix that changes nothing.
            steps = torch.cat([steps, torch.cat([zero[:, :1], never[:, :1], never[:, :1], zero[:, :1]], 1).unsqueeze(1)], 1)
        l, r = steps[:, 0::2], steps[:, 1::2]
        bb = torch.logaddexp(l[..., 0] + r[..., 0], l[..., 1] + r[..., 2])
        bh = torch.logaddexp(l[..., 0] + r[..., 1], l[..., 1] + r[..., 3])
        hb = torch.logaddexp(l[..., 2] + r[..., 0], l[..., 3] + r[..., 2])
        hh = torch.logaddexp(l[..., 2] + r[..., 1], l[..., 3] + r[..., 3])
        steps = torch.stack([bb, bh, hb, hh], -1)
    bb, bh, hb, hh = steps[:, 0].unbind(-1)
    return torch.logsumexp(torch.stack([bb, bh, first + hb, first + hh], -1), -1)


def chain_loss(out, held, mask):
    u, a, b = out[:, 0], out[:, 1], out[:, 2]
    before = F.pad(held[:, :-1], (1, 0))
    first = torch.zeros_like(held)
    first[:, 0] = 1
    inside = (held * mask) * u
    starts = (held * (1 - before) * mask * (1 - first)) * a
    ends = ((1 - held) * before * mask * (1 - first)) * b
    score = (inside + starts + ends).sum(1)
    return (log_partition(u, a, b, mask) - score).sum() / mask.sum() * 20


def state_loss(out, held, mask):
    return (F.binary_cross_entropy_with_logits(out[:, 0], held, reduction="none") * mask).sum() / mask.sum()


def loss_of(model, batch, without=None):
    """`without`: the half of the people who breathe that the network may not see."""
    x, held, mask = batch[:3]
    if without is not None:
        mask = mask * (batch[3] != without).float()[:, None]
    out = model(x, mask)
    return state_loss(out, held, mask) if model.live else chain_loss(out, held, mask)


class Run:
    """One network on its way, with the moving average of its weights. On a GPU each length's step is a CUDA graph: the step is a
    thousand small kernels, and launching them one by one would take five times as long as running them."""

    def __init__(self, name, live, fold, library, recordings, steps, device, seed, begin_with):
        torch.manual_seed(seed)
        self.name, self.live, self.fold, self.device = name, live, fold, device
        self.model = HoldNetwork(live).to(device)
        if begin_with is not None:
            read_weights(self.model, os.path.join(begin_with, f"{name}.ts"))
        self.average = HoldNetwork(live).to(device)
        self.average.load_state_dict(self.model.state_dict())
        self.trials = Trials(library, recordings, live, set() if fold is None else FOLDS[fold], device)
        self.generator = torch.Generator().manual_seed(seed)
        graphs = device.type == "cuda"
        self.rate, self.share = torch.zeros((), device=device), torch.zeros((), device=device)
        self.optimiser = torch.optim.AdamW(self.model.parameters(), lr=self.rate if graphs else 1e-3, weight_decay=1e-3,
                                           **({"capturable": True} if graphs else {}))
        self.steps, self.step_index, self.total = steps, 0, torch.zeros((), device=device)
        self.real = tuple(torch.clone(t) for t in self.trials.take(self.generator, 48))
        self.graphs, self.peak = {}, 4e-3 if begin_with is None else 2.5e-3

    def work(self, batch):
        loss = loss_of(self.model, batch, self.fold)
        (loss + self.share * loss_of(self.model, self.real)).backward()
        nn.utils.clip_grad_norm_(self.model.parameters(), 1.0)
        self.optimiser.step()
        self.total.mul_(0.99).add_(0.01 * loss.detach())

    def capture(self, batch):
        stream = torch.cuda.Stream()
        stream.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(stream):
            for _ in range(3):
                self.optimiser.zero_grad(set_to_none=True)
                self.work(batch)
        torch.cuda.current_stream().wait_stream(stream)
        graph = torch.cuda.CUDAGraph()
        self.optimiser.zero_grad(set_to_none=True)
        with torch.cuda.graph(graph):
            self.work(batch)
        return graph

    def step(self, batch):
        """`batch` must be the same tensors, filled anew, at each step of a length."""
        done = self.step_index / self.steps
        rate = self.peak * (done / 0.08 if done < 0.08 else 0.5 + 0.5 * math.cos(math.pi * (done - 0.08) / 0.92))
        # The trials are few; they count for more towards the end.
        self.share.fill_(0.15 if done < 0.6 else 0.8)
        for kept, drawn in zip(self.real, self.trials.take(self.generator, 48)):
            kept.copy_(drawn)
        if self.device.type == "cuda":
            self.rate.fill_(rate)
            length = batch[0].shape[2]
            if length not in self.graphs:
                self.graphs[length] = self.capture(batch)
            self.graphs[length].replay()
        else:
            self.optimiser.param_groups[0]["lr"] = rate
            self.optimiser.zero_grad(set_to_none=True)
            self.work(batch)
        if self.step_index % 10 == 0:
            keep = min(0.99, self.step_index / (self.step_index + 50))
            with torch.no_grad():
                ours, theirs = list(self.average.parameters()), list(self.model.parameters())
                torch._foreach_mul_(ours, keep)
                torch._foreach_add_(ours, theirs, alpha=1 - keep)
        self.step_index += 1


def read_weights(model, path):
    rows = re.findall(r"(?:\[|\n)\s*([0-9.e-]+),\s*'([^']+)'", open(path).read())
    tensors = [tensor for layer in model.layers() for tensor in (layer.weight, layer.bias)]
    assert len(rows) == len(tensors), path
    with torch.no_grad():
        for (size, text), tensor in zip(rows, tensors):
            values = np.frombuffer(base64.b64decode(text), "<i2").astype(np.float32) * (float(size) / 32767)
            tensor.copy_(torch.from_numpy(values).reshape(tensor.shape))


class Buffers:
    """A length's tensors on the device, filled anew with each batch."""

    def __init__(self, device):
        self.device, self.kept = device, {}

    def fill(self, live, batch):
        key = (live, batch[0].shape[2])
        if key not in self.kept:
            self.kept[key] = tuple(t.clone() for t in on_device(batch, self.device))
        else:
            for kept, new in zip(self.kept[key], on_device(batch, self.device)):
                kept.copy_(new)
        return self.kept[key]


def write_weights(model, path, name):
    lines = []
    for layer in model.layers():
        # Taps oldest first, inputs innermost, as hold-network.ts reads them.
        for tensor in (layer.weight.detach().cpu(), layer.bias.detach().cpu()):
            values = tensor.contiguous().numpy().ravel()
            scale = float(np.abs(values).max()) or 1.0
            integers = np.round(values / scale * 32767).astype("<i2")
            lines.append(f"  [\n    {scale!r},\n    '{base64.b64encode(integers.tobytes()).decode()}',\n  ],")
    body = "\n".join(lines)
    open(path, "w").write(
        "// Weights of a hold network, made by tests/training/train.py. Not written by hand.\n\n"
        "/** Layer by layer, weights then biases: scale and 16-bit integers, little-endian, base64. */\n"
        f"export const {name}: readonly (readonly [scale: number, integers: string])[] = [\n{body}\n];\n")


def advance(runs, sources, buffers):
    """A step of every network. Returns how many sessions were drawn for it."""
    sessions = 0
    for live, source in sources.items():
        batch = source.take()
        sessions += len(batch[0])
        batch = buffers.fill(live, batch)
        for run in runs:
            if run.live == live:
                run.step(batch)
    return sessions


def main():
    path, folder = sys.argv[1], sys.argv[2]
    seed = int(sys.argv[4]) if len(sys.argv) > 4 else 1
    begin_with = sys.argv[5] if len(sys.argv) > 5 else None
    limit_s = float(os.environ.get("LIMIT_S", "1e9"))
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    workers = max(1, (os.cpu_count() or 2) // 2 - 1)
    began = time.time()
    library, recordings = load_library(), Recordings(path)
    def make(steps):
        return [Run(f"{kind}{'' if fold is None else f'-fold-{fold + 1}'}", kind == "live", fold, library, recordings, steps, device,
                    seed + 10 * i + (kind == "live"), begin_with) for kind in ("smoothing", "live") for i, fold in enumerate((None, 0, 1))]

    buffers = Buffers(device)
    if sys.argv[3].startswith("for:"):
        # As many steps as fit so many seconds; the number is printed, and gives the same training again.
        trial = make(1000)
        tried = {live: Source(library, recordings, live, 5, RECORDED, workers) for live in (False, True)}
        for step in range(60):
            if step == 30:
                torch.cuda.synchronize() if device.type == "cuda" else None
                at = time.time()
            advance(trial, tried, buffers)
        torch.cuda.synchronize() if device.type == "cuda" else None
        each = (time.time() - at) / 30 * 1.1
        steps = int((float(sys.argv[3][4:]) - (time.time() - began)) / each)
        print(f"{each * 1000:.0f} ms a step: {steps} steps", flush=True)
        for source in tried.values():
            source.pool.shutdown(cancel_futures=True)
        del trial
    else:
        steps = int(sys.argv[3])
    runs = make(steps)
    buffers = Buffers(device)
    sources = {live: Source(library, recordings, live, seed * 10 + live, RECORDED, workers) for live in (False, True)}
    sessions = 0
    for step in range(steps):
        sessions += advance(runs, sources, buffers)
        if step % max(1, steps // 40) == 0 or step == steps - 1:
            print(f"{step} {sessions} sessions " + " ".join(f"{run.name} {float(run.total):.3f}" for run in runs) +
                  f" ({time.time() - began:.0f} s)", flush=True)
        if time.time() - began > limit_s:
            print(f"*** stopped at step {step} of {steps}: out of time ***", flush=True)
            break
    os.makedirs(folder, exist_ok=True)
    for run in runs:
        write_weights(run.average, os.path.join(folder, f"{run.name}.ts"), "liveWeights" if run.live else "smoothingWeights")
    # On practice sessions that no training saw.
    with torch.no_grad():
        for live in (False, True):
            for share, what in ((0.0, "invented"), (1.0, "half-real")):
                fresh = Source(library, recordings, live, 777 + live, share, workers)
                batches = [on_device(fresh.take(), device) for _ in range(10)]
                for run in runs:
                    if run.live == live:
                        print(f"fresh {what}: {run.name} {np.mean([float(loss_of(run.average, b)) for b in batches]):.4f}", flush=True)
    print(f"took {time.time() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
