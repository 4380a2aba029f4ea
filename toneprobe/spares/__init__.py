"""Spares: what is in the bag and at home, what is missing, what to order by when, and what can stand in."""

from toneprobe.spares.full_set import SetCheck, check_full_set, gaps_of, strays
from toneprobe.spares.lead_times import ASK_THE_SHOP, Lead, lead_of, lead_times_noted
from toneprobe.spares.on_the_way import Coming, arrive, coming_spares, coming_words
from toneprobe.spares.orders import Holding, Order, list_orders, suggest_holding
from toneprobe.spares.spare import (
    CORRECTABLE,
    PLACE_WORDS,
    SAME_GAUGE,
    ShelfAge,
    Spare,
    check_spare,
    correct_spare,
    fits,
    on_the_way,
    shelf_age,
    shelf_ages,
    take_first,
    unused,
    use,
    value_words,
)
from toneprobe.spares.stand_ins import StandIn, stand_ins_for
