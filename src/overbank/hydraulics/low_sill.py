"""A crest that is low against the depth over it, and drowned: an energy balance over the bump.

The laws by which weirs drown were fitted to crests that stand up well over the bed. Where the head is greater than the
crest's height P a drowned crest is a bump: energy is lost only as the stream, contracted over it, widens again,

    Eu = Ed + (Vj - Vd)^2/2g,     Vj = Q / (Cc b h2),     Cc = 0.62 + 0.38 (b h2 / A)^3

with h2 the level below above the crest, A and Vd the area and velocity of a stream in the section of the approach at
that level (Borda and Carnot; contraction after Weisbach, from memory, unverified); Vd is 0 where the water below is
still. A bump that vanishes leaves nothing. h2 counts as no less than the depth at which Eu is least, so that Eu never
falls as the level below rises (own proposal).
"""

from __future__ import annotations

from overbank._jit import kernel
from overbank.constants import GRAVITY

LOW_FROM = 1.0
"""Head over height of a crest from which on the balance over the bump may take over (own proposal)."""


@kernel
def contraction(share: float) -> float:
    """Cc of a stream that narrows to a share of its area [-]."""
    share = min(share, 1.0)
    return 0.62 + 0.38 * share * share * share


@kernel
def least_depth(rate: float, critical_share: float) -> float:
    """Depth over the crest at which the energy of the contracted stream is least, and a little more [m].

    rate : Q/b [m2/s]; critical_share : share of the stream's area that the crest leaves at critical depth [-]
    A twentieth over (q^2/(g Cc^2))^(1/3), since Cc itself rises with the depth.
    """
    narrowed = rate / contraction(critical_share)
    return 1.05 * (narrowed * narrowed / GRAVITY) ** (1.0 / 3.0)


@kernel
def widening_loss(rate: float, depth: float, share: float, velocity_below: float) -> float:
    """(Vj - Vd)^2/2g, 0 where the stream below is the faster [m].

    rate : Q/b [m2/s]; depth : over the crest [m]; share : of the stream's area over the crest [-]
    velocity_below : Vd [m/s]
    """
    lost = max(rate / (contraction(share) * depth) - velocity_below, 0.0)
    return lost * lost / (2.0 * GRAVITY)
