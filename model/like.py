"""What readings of one racquet say about another of the same model.

Two racquets of a model are two draws about the model's own insides μ: θ = μ + ε, where μ has the
share 1 - r² of the construction's prior covariance C and each ε the share r². What readings say of
racquet A is a likelihood of its θ, kept as information (a matrix and a vector about the prior's
middle); seen through ε it is one about μ, and that with B's own ε is the prior of B. With r = 1
A says nothing about B, with r = 0 they are the same racquet. Only what belongs to the making is
shared: densities, unevenness, lay of the plies; not the photo's scale or a caliper's reading.
A racquet tells what its own readings say, never what others have told it: those are asked themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.calibrate import Calibration
from model.errors import ModelError
from model.parts import Parts
from model.racquet_file import LikeRecord

Array = NDArray[np.float64]

SHARED_MODES = ("uneven", "stack", "depth")


def likeness(found: Calibration, file_name: str) -> LikeRecord:
    """What a racquet's own readings say about others of its model; see ``recalibrate.told_by``.

    Raises ModelError for one calibrated with what others told: its push would not be about the
    construction's middle, which is what ``with_likeness`` takes it to be about.
    """
    if found.parts.prior_mean is not None:
        raise ModelError(f"{file_name} has been told by others of its model: calibrate it alone first")
    mean, cov = found.parts.prior()
    places = _shared(found.parts)
    labels = _labels(found.parts)
    chosen = [places[label] for label in labels]
    size = len(mean)
    posterior = found.cov[:size, :size][np.ix_(chosen, chosen)]
    precision = np.linalg.inv(posterior)
    information = precision - np.linalg.inv(cov[np.ix_(chosen, chosen)])
    push = precision @ (found.state[:size] - mean)[chosen]
    values, vectors = np.linalg.eigh((information + information.T) / 2)
    information = (vectors * np.clip(values, 0.0, None)) @ vectors.T  # rounding may leave -1e-12
    return LikeRecord(
        file_name=file_name, labels=labels, information=information.tolist(), push=push.tolist()
    )


def with_likeness(parts: Parts, records: Sequence[LikeRecord], share: float) -> Parts:
    """The parts with the prior that racquets of the same model leave; ``share`` is r, 0 to 1.

    Raises ModelError when a racquet is built of other parts.
    """
    if not records:
        return parts
    mean, cov = parts.prior()
    places = _shared(parts)
    labels = _labels(parts)
    chosen = np.array([places[label] for label in labels])
    own = cov[np.ix_(chosen, chosen)]
    information, push = np.zeros_like(own), np.zeros(len(labels))
    for record in records:
        if set(record.labels) != set(labels):
            raise ModelError(
                f"{record.file_name} is built of other parts than this racquet: give one of the same model"
            )
        order = [record.labels.index(label) for label in labels]
        told = np.array(record.information)[np.ix_(order, order)]
        through = np.linalg.inv(np.eye(len(labels)) + share**2 * told @ own)
        information = information + through @ told
        push = push + through @ np.array(record.push)[order]
    model_cov = (1 - share**2) * own  # of μ before; none is left at r = 1, so it is never inverted
    model_cov = np.linalg.solve(np.eye(len(labels)) + model_cov @ information, model_cov)
    mean, cov = mean.copy(), cov.copy()
    mean[chosen] += model_cov @ push
    block = model_cov + share**2 * own
    cov[np.ix_(chosen, chosen)] = (block + block.T) / 2
    return replace(parts, prior_mean=mean, prior_cov=cov)


def _labels(parts: Parts) -> list[str]:
    return sorted(_shared(parts))


def _shared(parts: Parts) -> dict[str, int]:
    """Names of what racquets of a model share, and their places in the state."""
    found = {f"mass of {name}": i for i, name in enumerate(parts.names[: parts.own])}
    for k, name in enumerate(parts.mode_names):
        if name.startswith(SHARED_MODES):
            found[name] = len(parts.names) + k
    return found
