"""The other questions, one place each: warming, what drives the flash point, comparing, advice,
the finished drink, volumes, materials, accuracy.

Each asks the engine in `mixture` or the road in `assess`; none prints.
"""
