"""The local page on which a person puts the outline right by hand.

``sheet`` is the plane the person looks at; ``tiles`` its picture; ``edit`` what the browser may say;
``outcome`` what an edit means in millimetres and figures; ``follow`` lines along edges; ``redraw``,
``mirroring``, ``card`` and ``marking`` the larger steps; ``desk`` the open file with its draft; ``guard`` and
``server`` the way in. Files in ``static`` are the page itself, plain modules without any build.
"""
