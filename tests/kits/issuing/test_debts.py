"""What runs owe each other."""

from kits.issuing.debts import Debt, Draw, GivenBack, open_debts

ANN, BOB, CAT = 1, 2, 3


def test_a_borrow_is_owed():
    assert open_debts([Draw("a", ANN, 4, lender=BOB)]) == [Debt("a", ANN, BOB, 4)]


def test_the_debt_shows_until_the_lender_has_drawn_as_much():
    draws = [Draw("a", ANN, 4, lender=BOB), Draw("b", BOB, 3)]
    assert open_debts(draws) == [Debt("a", ANN, BOB, 1)]
    assert open_debts([*draws, Draw("c", BOB, 1)]) == []


def test_what_the_lender_draws_from_its_own_box_pays_nothing():
    assert open_debts([Draw("a", ANN, 4, lender=BOB), Draw("b", BOB, 9, own_box=True)]) == [Debt("a", ANN, BOB, 4)]


def test_what_was_drawn_before_the_borrow_pays_nothing():
    assert open_debts([Draw("b", BOB, 9), Draw("a", ANN, 4, lender=BOB)]) == [Debt("a", ANN, BOB, 4)]


def test_the_oldest_debt_is_paid_first():
    draws = [Draw("a", ANN, 2, lender=BOB), Draw("c", CAT, 2, lender=BOB), Draw("b", BOB, 3)]
    assert open_debts(draws) == [Debt("c", CAT, BOB, 1)]


def test_a_draw_that_names_the_borrower_pays_its_debt_first_and_lends_only_the_rest():
    draws = [Draw("a", ANN, 2, lender=BOB), Draw("c", CAT, 2, lender=BOB), Draw("b", BOB, 5, lender=CAT)]
    assert open_debts(draws) == [Debt("b", BOB, CAT, 1)]
    assert open_debts([*draws[:2], Draw("b", BOB, 2, lender=CAT)]) == [Debt("a", ANN, BOB, 2)]


def test_what_the_borrower_gives_back_pays_the_oldest_of_its_debts_first():
    acts = [Draw("a", ANN, 4, lender=BOB), Draw("b", ANN, 4, lender=CAT), GivenBack(ANN, 5)]
    assert open_debts(acts) == [Debt("b", ANN, CAT, 3)]


def test_what_is_put_into_a_kit_box_pays_only_the_run_whose_box_it_is():
    acts = [Draw("a", ANN, 4, lender=BOB), Draw("b", ANN, 4, lender=CAT), GivenBack(ANN, 5, box_of=CAT)]
    assert open_debts(acts) == [Debt("a", ANN, BOB, 4)]


def test_what_others_give_back_or_what_came_back_before_the_borrow_pays_nothing():
    assert open_debts([GivenBack(ANN, 9), Draw("a", ANN, 4, lender=BOB), GivenBack(BOB, 4)]) == [Debt("a", ANN, BOB, 4)]
