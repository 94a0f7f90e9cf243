"""From one photo of a racquet beside a card to its outline in millimetres; also the commands.

Pixel convention, used everywhere in this package: the centre of the top-left pixel of the
upright picture is (0, 0), x runs right, y runs down; arrays of points have shape (n, 2), (x, y).
World frame of a photo: the table is the plane z = 0, z up, in mm; its origin is the middle of
the reference card. A camera maps world X to ``K (R X + t)`` with x right, y down, z forward.
Racquet frame: origin at the centre of the butt end, +y along the handle to the tip,
+x right as seen, in mm.
"""
