"""Trains networks on the judging generators themselves (SIMULATED, draw-judged.ts): a bound on what any detector could find with
these signals. Nothing of it is shipped: it writes scores for sessions of other seeds, and no weights.

Run: python3 train_bound.py TRAIN_FOLDER JUDGED_FOLDER OUT_FOLDER SECONDS
same: the product's features and size; wide: the same features, 128 wide; more: features that the product leaves out as well, three
trainings whose scores are averaged. Kept of each training is what did best on the choosing sessions (seeds 900 and up).
"""
import glob
import json
import math
import os
import sys
import time

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

sys.path.insert(0, os.environ.get("TRAINING", os.path.join(os.path.dirname(os.path.abspath(__file__)), "..")))
from train import HoldNetwork, chain_loss  # noqa: E402

ALL = 34
UNIT = 4096.0
LENGTH = 1024
BATCH = 48


def read(folder):
    """Every session's features (rows x 34, whole numbers), labels and seed, in the order of the files."""
    sessions = []
    for path in sorted(glob.glob(os.path.join(folder, "*.features"))):
        data = open(path, "rb").read()
        at = 0
        for line in open(path.replace(".features", ".jsonl")):
            rows = int(np.frombuffer(data, np.int32, 1, at)[0])
            x = np.frombuffer(data, np.int16, ALL * rows, at + 4).reshape(rows, ALL)
            held = np.frombuffer(data, np.uint8, rows, at + 4 + 2 * ALL * rows)
            at += 4 + (2 * ALL + 1) * rows
            sessions.append((x, held, json.loads(line)["seed"]))
    return sessions


class Sessions:
    """All sessions one after another on the device; batches are stretches of them."""

    def __init__(self, sessions, device):
        self.device = device
        lengths = np.array([len(held) for _, held, _ in sessions])
        self.lengths = torch.from_numpy(lengths).to(device)
        self.starts = torch.from_numpy(np.concatenate([[0], np.cumsum(lengths)[:-1]])).to(device)
        self.x = torch.from_numpy(np.concatenate([x for x, _, _ in sessions])).to(device)
        self.held = torch.from_numpy(np.concatenate([h for _, h, _ in sessions])).to(device)

    def batch(self, chosen, length, random):
        lengths, starts = self.lengths[chosen], self.starts[chosen]
        beyond = torch.clamp(lengths - length, min=0)
        first = (torch.rand(len(chosen), device=self.device) * (beyond + 1)).long() if random else torch.zeros_like(beyond)
        rows = first[:, None] + torch.arange(length, device=self.device)[None]
        mask = (rows < lengths[:, None]).float()
        at = starts[:, None] + torch.minimum(rows, lengths[:, None] - 1)
        x = self.x[at].float().mul_(1 / UNIT) * mask.unsqueeze(2)
        return x.transpose(1, 2).contiguous(), self.held[at].float() * mask, mask


def train(name, features, width, seed, learnt, choosing, device, seconds):
    torch.manual_seed(seed)
    model, average = HoldNetwork(False, features, width).to(device), HoldNetwork(False, features, width).to(device)
    average.load_state_dict(model.state_dict())
    rate = torch.zeros((), device=device)
    graphs = device.type == "cuda"
    optimiser = torch.optim.AdamW(model.parameters(), lr=rate if graphs else 1e-3, weight_decay=0.02, **({"capturable": True} if graphs else {}))
    draw = lambda: learnt.batch(torch.randint(len(learnt.lengths), (BATCH,), device=device), LENGTH, True)
    kept = [t.clone() for t in draw()]
    total = torch.zeros((), device=device)

    def work():
        loss = chain_loss(model(kept[0][:, :features], kept[2]), kept[1], kept[2])
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimiser.step()
        total.mul_(0.99).add_(0.01 * loss.detach())

    def chosen_loss():
        with torch.no_grad():
            losses = []
            for at in range(0, len(choosing.lengths), 64):
                x, held, mask = choosing.batch(torch.arange(at, min(at + 64, len(choosing.lengths)), device=device), LENGTH, False)
                losses.append(float(chain_loss(average(x[:, :features], mask), held, mask)))
            return float(np.mean(losses))

    if graphs:
        stream = torch.cuda.Stream()
        stream.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(stream):
            for _ in range(3):
                optimiser.zero_grad(set_to_none=True)
                work()
        torch.cuda.current_stream().wait_stream(stream)
        graph = torch.cuda.CUDAGraph()
        optimiser.zero_grad(set_to_none=True)
        with torch.cuda.graph(graph):
            work()
    began, step, best, best_state = time.time(), 0, math.inf, None
    looked = 0.0
    while True:
        if step % 20 == 0 and graphs:
            torch.cuda.synchronize()
        done = (time.time() - began) / seconds
        if done >= 1:
            break
        wanted = 3e-3 * (done / 0.05 if done < 0.05 else 0.5 + 0.5 * math.cos(math.pi * (done - 0.05) / 0.95))
        for old, new in zip(kept, draw()):
            old.copy_(new)
        if graphs:
            rate.fill_(wanted)
            graph.replay()
        else:
            optimiser.param_groups[0]["lr"] = wanted
            optimiser.zero_grad(set_to_none=True)
            work()
        if step % 10 == 0:
            keep = min(0.97, step / (step + 50))
            with torch.no_grad():
                torch._foreach_mul_(list(average.parameters()), keep)
                torch._foreach_add_(list(average.parameters()), list(model.parameters()), alpha=1 - keep)
        step += 1
        if done - looked > 0.1 or (done > 0.9 and done - looked > 0.03):
            looked = done
            loss = chosen_loss()
            print(f"{name} {seed}: {step} steps, learnt {float(total):.4f}, chosen on {loss:.4f}", flush=True)
            if loss < best:
                best, best_state = loss, {k: v.clone() for k, v in average.state_dict().items()}
    average.load_state_dict(best_state if best_state is not None else average.state_dict())
    return average, {"name": name, "features": features, "width": width, "steps": step, "learntLoss": float(total), "choosingLoss": best}


def scores_of(model, features, sessions, device):
    out = []
    with torch.no_grad():
        for i in range(len(sessions.lengths)):
            n = int(sessions.lengths[i])
            x, _, mask = sessions.batch(torch.tensor([i], device=device), n, False)
            out.append(model(x[:, :features], mask)[0].transpose(0, 1).reshape(-1).float().cpu().numpy())
    return out


def main():
    train_folder, judged_folder, out, seconds = sys.argv[1], sys.argv[2], sys.argv[3], float(sys.argv[4])
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cuda.matmul.allow_tf32 = True
    os.makedirs(out, exist_ok=True)
    learnt = Sessions(read(train_folder), device)
    everyone = read(judged_folder)
    judged, choosing = Sessions(everyone, device), Sessions([s for s in everyone if s[2] >= 900], device)
    print(f"learnt from {len(learnt.lengths)} sessions, {len(learnt.x)} rows; {len(choosing.lengths)} for choosing", flush=True)
    report = []
    for name, features, width, seeds, share in (("same", 24, 48, 1, 0.2), ("wide", 24, 128, 2, 0.4), ("more", ALL, 128, 2, 0.4)):
        sums = None
        for seed in range(seeds):
            model, said = train(name, features, width, seed, learnt, choosing, device, seconds * share / seeds)
            report.append(said)
            scores = scores_of(model, features, judged, device)
            sums = scores if sums is None else [a + b for a, b in zip(sums, scores)]
        np.concatenate([s / seeds for s in sums]).astype("<f4").tofile(os.path.join(out, f"{name}.bin"))
    json.dump({"sessions": len(learnt.lengths), "trainings": report}, open(os.path.join(out, "trainings.json"), "w"), indent=1)


main()
