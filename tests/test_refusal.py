"""What a refused photo says, wherever it is said."""

from __future__ import annotations

import pickle

from digitise.refusal import Reason, Refused


def test_a_refusal_passes_from_one_process_to_another() -> None:
    sent = Refused(Reason.BLURRED, "The photo is too blurred; retake it.")
    come = pickle.loads(pickle.dumps(sent))
    assert isinstance(come, Refused)
    assert come.reason is Reason.BLURRED
    assert str(come) == str(sent) == "The photo is too blurred; retake it."
