"""What a person must know before sticking weight on a racquet, said wherever they act."""

from __future__ import annotations

CAUTIONS = (
    "Lead tape is toxic: wrap it, wash hands, keep it from children and food, dispose of it by local rules.",
    "More swing weight loads wrist, elbow and shoulder: go in small steps; pain is for a licensed clinician.",
    "For competition the racquet must meet the current rules of the governing body.",
)
