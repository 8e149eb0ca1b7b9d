"""Many blends at once: the answers of `assess` as arrays, a block of blends a call.

What belongs here: blocks, and each question worked out for a block. The equations and learned
numbers stay in `mixture` and `pure`; what only one blend in many needs takes the slow road through
`Blend` (`block` says which). Files, checkpoints and workers are not for here.
"""
