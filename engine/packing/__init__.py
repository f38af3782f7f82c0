"""What lies where in one box: plain functions of one design, compiled; knows no search and no sound.

A batch and a pick take the same functions.  What they read and write are rows of tables (``engine.core``): a
:class:`~engine.packing.box.Box`, its :class:`~engine.packing.contents.Driver`, the opening's own sizes, and the
:class:`~engine.packing.inside.Packed` that comes of it.
"""
