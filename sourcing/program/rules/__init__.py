"""The rules of the trade as constraint families: one function, one rule."""

from sourcing.program.rules.asking import (
    differ_from_what_was_told,
    do_with_a_part_in_hand_what_is_asked,
    pay_as_many_at_the_first_price_as_is_asked,
    stay_below_the_ceiling,
    use_the_part_that_is_asked_about,
)
from sourcing.program.rules.buying import (
    buy_only_what_fills_or_is_wanted,
    buy_the_smallest_quantity_that_serves,
    choose_one_price_step,
    count_what_reaches_the_shelf,
    draw_from_what_is_bought,
    stay_within_stock,
    stock_no_more_than_is_wanted,
)
from sourcing.program.rules.cores import (
    pay_core_return_once,
    return_a_core_for_a_piece,
    return_each_core_once,
)
from sourcing.program.rules.fitting import (
    do_the_work_that_comes_with_it,
    fill_every_position,
    keep_to_the_book,
    tell_like_units_apart,
    use_a_part_in_hand_or_send_it_back,
)
from sourcing.program.rules.ordering import (
    earn_free_freight,
    limit_suppliers,
    meet_order_minimum,
    open_an_order_for_every_line,
    wait_for_the_last_arrival,
)

RULES = (
    fill_every_position,
    use_a_part_in_hand_or_send_it_back,
    keep_to_the_book,
    buy_only_what_fills_or_is_wanted,
    choose_one_price_step,
    buy_the_smallest_quantity_that_serves,
    stock_no_more_than_is_wanted,
    stay_within_stock,
    draw_from_what_is_bought,
    open_an_order_for_every_line,
    meet_order_minimum,
    earn_free_freight,
    limit_suppliers,
    wait_for_the_last_arrival,
    return_each_core_once,
    return_a_core_for_a_piece,
    pay_core_return_once,
    do_the_work_that_comes_with_it,
    tell_like_units_apart,
    count_what_reaches_the_shelf,
)

# Asked of a job by itself alone.
QUESTIONS = (
    pay_as_many_at_the_first_price_as_is_asked,
    use_the_part_that_is_asked_about,
    differ_from_what_was_told,
    stay_below_the_ceiling,
    do_with_a_part_in_hand_what_is_asked,
)

__all__ = ["QUESTIONS", "RULES", *(rule.__name__ for rule in (*RULES, *QUESTIONS))]
