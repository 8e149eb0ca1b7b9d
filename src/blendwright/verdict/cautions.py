"""The sentences that every assessment prints, whatever it found."""

USE_IN_FOOD = (
    "Whether a substance may be used in food, and how much, is a matter of national lists and of a "
    "qualified person."
)
CAUTIONS: tuple[str, ...] = (
    "These are estimates from models, published data and values from memory, not tests. They clear "
    "no shipment and replace no measurement.",
    "A measured flash point, the local codes and a qualified person decide on storage, labelling "
    "and transport.",
    "Warm flammable blends covered, away from flames and open heating elements, with ventilation, "
    "and well below the flash point's low end.",
    "Not looked at: skin and eye effects, sensitisation, aspiration, breathing in butter-like "
    'ketones, harm to water, self-heating of rags. "None" for flammability is not "harmless".',
    USE_IN_FOOD,
)
