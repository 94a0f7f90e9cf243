"""From a racquet's outline and readings to part masses, the six figures and tape placements.

Frame: origin at the centre of the butt end, +y along the handle to the tip, +x right as seen,
z square to the face and zero in its middle plane; mm and g inside, kg·cm² for inertias shown.
Rings are (n, 2) arrays of (x, y), closed but with the first point not repeated.
"""
