"""A small renderer of invented racquets beside a card, with exact truth, for tests and benchmarks.

It shares no code with the programs it judges. ``render(random_scene(seed, "solid"))`` gives the
pixels and the truth; ``write`` saves both; ``python -m tests.render FOLDER`` makes a set.
"""

from tests.render.compose import Rendered, light_picture, make, render, write
from tests.render.invent import random_scene
from tests.render.scene import Laid, Scene

__all__ = ["Laid", "Rendered", "Scene", "light_picture", "make", "random_scene", "render", "write"]
