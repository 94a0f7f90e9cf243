"""Inertia from timed swings: a racquet hung from a pivot, and one hung on two threads.

Lengths mm, masses g, times s, inertias kg cm². The times are whole periods, there and back.
"""

from __future__ import annotations

import math

from model.figures import KGCM2_GMM2

GRAVITY_MM_S2 = 9806.65  # standard gravity; it differs by up to 0.3 % over the Earth


def amplitude_factor(amplitude_deg: float) -> float:
    """How much longer a swing of this amplitude (from the middle to one end) takes than a small one.

    Exact for a pendulum: 1 / agm(1, cos(θ/2)), Gauss's form of the complete elliptic integral
    (DLMF 19.8.5 and 22.19(i)); 1 + θ²/16 + 11 θ⁴/3072 + ... for small θ. Swings below 90° only.

    >>> round(amplitude_factor(20.0), 5)
    1.00767
    """
    a, b = 1.0, math.cos(math.radians(amplitude_deg) / 2)
    while abs(a - b) > 1e-15:
        a, b = (a + b) / 2, math.sqrt(a * b)
    return 1 / a


def pendulum_period_s(inertia_kgcm2: float, mass_g: float, arm_mm: float, radius_mm: float = 0.0) -> float:
    """Period of small swings about a pivot.

    ``inertia_kgcm2`` is about the line of contact, ``arm_mm`` the distance from there to the
    balance point, ``radius_mm`` the rounding of the edge it rolls on (0: a sharp edge). T² =
    4 π² I / (M g (arm + radius)): a body whose flat rests on a round edge of radius r has the
    potential energy M g (arm + r) θ²/2 to second order, because the contact moves by r θ.
    """
    return (
        2 * math.pi * math.sqrt(inertia_kgcm2 * KGCM2_GMM2 / (mass_g * GRAVITY_MM_S2 * (arm_mm + radius_mm)))
    )


def pendulum_inertia_kgcm2(mass_g: float, arm_mm: float, period_s: float, radius_mm: float = 0.0) -> float:
    """Inertia about the pivot from the period of small swings: :func:`pendulum_period_s` turned round.

    >>> round(pendulum_inertia_kgcm2(231, 208, 1.093), 1)
    142.6
    """
    stiffness = mass_g * GRAVITY_MM_S2 * (arm_mm + radius_mm)
    return stiffness * (period_s / (2 * math.pi)) ** 2 / KGCM2_GMM2


def thread_height_mm(thread_mm: float, spacing_mm: float, top_spacing_mm: float) -> float:
    """How far the lower ends of two equal threads hang below the upper ones."""
    lean = (top_spacing_mm - spacing_mm) / 2
    return math.sqrt(thread_mm**2 - lean**2)


def bifilar_lever_mm(
    thread_mm: float, spacing_mm: float, top_spacing_mm: float | None = None, offset_mm: float = 0.0
) -> float:
    """The length λ in I = M g λ (T / 2π)² for a body on two equal threads.

    λ = D d / (4 h) for threads ``top_spacing_mm`` D apart above, ``spacing_mm`` d below and h
    from end to end (D = d: parallel). A balance point off the middle between the threads by
    ``offset_mm`` o loads them unequally, and D d / 4 becomes D d / 4 · (1 - (2 o / d)²): for parallel
    threads at distances d1 and d2 from the balance point, λ = d1 d2 / h.

    Exact for parallel threads and for o = 0. With both, the body hangs askew, the more so the further its
    balance point lies below the threads' lower ends, and λ comes out too small: level with them by under
    0.1 % where D and d differ by a twentieth of the threads' length, by 1.2 % for threads of 300 mm,
    D = 250 mm, d = 150 mm and o = 30 mm.
    """
    top = spacing_mm if top_spacing_mm is None else top_spacing_mm
    height = thread_height_mm(thread_mm, spacing_mm, top)
    return top * spacing_mm / (4 * height) * (1 - (2 * offset_mm / spacing_mm) ** 2)


def bifilar_period_s(inertia_kgcm2: float, mass_g: float, lever_mm: float) -> float:
    """Period of small turns about the upright line through the balance point."""
    return 2 * math.pi * math.sqrt(inertia_kgcm2 * KGCM2_GMM2 / (mass_g * GRAVITY_MM_S2 * lever_mm))


def bifilar_inertia_kgcm2(mass_g: float, lever_mm: float, period_s: float) -> float:
    """Inertia about the upright line through the balance point from the period of small turns."""
    return mass_g * GRAVITY_MM_S2 * lever_mm * (period_s / (2 * math.pi)) ** 2 / KGCM2_GMM2
