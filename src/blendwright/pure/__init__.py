"""What one material does: vapour pressure, liquid density, fusion, flash point, flammable limit.

Each module answers one question of one substance, choosing among the catalogue's facts by a rule
written at its top. Mixtures are no business of these modules.
"""
