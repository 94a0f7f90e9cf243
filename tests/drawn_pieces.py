"""Random pieces on the sample paddle, for property tests."""

from __future__ import annotations

from hypothesis import strategies as st

from model.pieces import EdgeStrip, FacePatch, Fold, FromTip, HandleRing, Side, Stuff

lengths = st.floats(2, 100)
places = st.floats(-280, 280)
stuffs = st.builds(
    Stuff,
    width_mm=st.none() | st.floats(1, 30),
    thickness_mm=st.just(0.0) | st.floats(0.01, 2),
    layers=st.integers(1, 4),
)
folds = st.sampled_from(Fold)
stand_offs = st.floats(0, 5)


@st.composite
def strips(draw: st.DrawFn) -> EdgeStrip:
    return EdgeStrip(
        mass_g=draw(st.floats(0.1, 20)),
        length_mm=draw(lengths),
        place=FromTip(draw(places)),
        stuff=draw(stuffs),
        fold=draw(folds),
        side=draw(st.sampled_from(Side)),
        stand_off_mm=draw(stand_offs),
    )


pieces = st.one_of(
    strips(),
    st.builds(
        FacePatch,
        mass_g=st.floats(0.1, 20),
        x_mm=st.floats(-50, 50),
        y_mm=st.floats(200, 350),
        across_mm=st.floats(2, 60),
        along_mm=st.floats(2, 60),
        turn_deg=st.floats(-90, 90),
    ),
    st.builds(
        HandleRing,
        mass_g=st.floats(0.1, 20),
        y_mm=st.floats(40, 90),
        length_mm=st.floats(2, 70),
        strips=st.integers(1, 6),
    ),
)
