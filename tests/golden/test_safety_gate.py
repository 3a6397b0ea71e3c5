"""Every drink before every patient: the gate against the same rules written out by hand.

The sets below are a second statement of what may be given to whom. They are not read from the
data, and each has its source beside it. "memory" and "common practice, no source" are said where
nothing published was read.
"""

import tomllib
from collections.abc import Iterator
from itertools import combinations, product
from pathlib import Path

import pytest

from ebbline.core.clinic.safety import Clearance, Drink, Gate, check_clearance, gate
from ebbline.core.clinic.safety_table import Mix, parse_safety
from ebbline.core.errors import SafetyError

DATA = Path(__file__).resolve().parents[2] / "src" / "ebbline" / "data"
SUGARS = ("lactose", "fructose", "glucose", "lactulose", "sorbitol", "sucrose", "xylose")
TABLE = parse_safety(
    tomllib.loads((DATA / "safety.toml").read_text(encoding="utf-8")), substrates=SUGARS
)
PLAIN: Mix = "plain"
MIXES: tuple[Mix, ...] = (PLAIN, "flavoured", "unknown")
DRINKS = [Drink(sugar, mix) for sugar in SUGARS for mix in MIXES]

HFI = "hereditary-fructose-intolerance"
EVERYBODY = ("other-allergy", "pregnancy", "recent-surgery", "obstruction", "infection", "blowing",
             "fasting")  # fmt: skip

# Fructose, sucrose and sorbitol in hereditary fructose intolerance: metabolic crisis, renal and
# hepatic failure, seizures, coma; a fructose challenge "could result in death". Source:
# Hereditary Fructose Intolerance, GeneReviews, NBK333439, summary.
HOLDS_FRUCTOSE = {"fructose", "sucrose", "sorbitol"}
# Lactose in galactosaemia: all galactose is removed at once. Source: J Inherit Metab Dis 2011,
# doi 10.1007/s10545-010-9157-8, introduction. Lactulose solutions hold galactose and lactose and
# are contraindicated: product information of generic lactulose solutions, section 4.3.
HOLDS_GALACTOSE = {"lactose", "lactulose"}
# Carbohydrate after stomach surgery: late hypoglycaemia. Source for glucose: Scarpellini E, et al.
# Nat Rev Endocrinol 2020;16:448-466. Lactose and sucrose yield glucose: memory.
YIELDS_GLUCOSE = {"glucose", "lactose", "sucrose"}

# The sugars before which each question matters, in a plain mix.
MATTERS = {
    HFI: HOLDS_FRUCTOSE | {"lactulose"},  # lactulose: product information, section 4.4
    "galactosaemia": HOLDS_GALACTOSE,
    "diabetes": set(SUGARS),  # the requesting doctor's guidance: a public laboratory test guide
    "sucrase-deficiency": {"sucrose"},  # 3 of 3 children had watery stool: BMC Pediatr 2014;14:11
    "dumping": YIELDS_GLUCOSE,
    "milk-allergy": {"lactose"},  # Maeda S, et al. Jpn J Pediatr Allergy Clin Immunol 2020;34:370
    **{question: set(SUGARS) for question in EVERYBODY},  # memory, and common practice, no source
}
ANSWERS: dict[str, tuple[str | None, ...]] = {
    **dict.fromkeys(MATTERS, ("no", "unknown", "yes", None)),
    HFI: ("no", "unknown", "suspected", "known", None),
    "obstruction": ("no", "unknown", "suspected", "known", None),
}
OF_SUGAR = [question for question in MATTERS if question not in EVERYBODY]

UP = {"clinician": {"clinician", "doctor", "specialist"}, "doctor": {"doctor", "specialist"},
      "specialist": {"specialist"}, "requester": {"requester"}}  # fmt: skip
NOBODY: set[str] = set()


def asked(drink: Drink) -> list[str]:
    """Return the questions that matter; any but a plain mix may hold sorbitol or sucrose.

    Source for the mix: Orphanet J Rare Dis 2023, doi 10.1186/s13023-023-03011-x, table 4.
    """
    return [
        question
        for question, sugars in MATTERS.items()
        if drink.substrate in sugars or (question == HFI and drink.mix != PLAIN)
    ]


def who(question: str, answer: str | None, drink: Drink) -> set[str]:
    """Return the kinds of person who may let a drink go ahead in spite of one answer.

    That nobody may for a known disease, and who may otherwise, is from memory.
    """
    if answer is None:
        return NOBODY
    if question == HFI:
        if answer == "known" and drink.substrate in HOLDS_FRUCTOSE:
            return NOBODY
        mixed = drink.mix != PLAIN
        return UP["specialist" if mixed or drink.substrate == "lactulose" else "doctor"]
    if question == "galactosaemia":
        return NOBODY if answer == "yes" else UP["doctor"]
    if question == "diabetes":
        return UP["requester" if answer == "yes" else "clinician"]
    if question in ("sucrase-deficiency", "dumping", "milk-allergy", "recent-surgery",
                    "obstruction"):  # fmt: skip
        return UP["doctor"]
    return UP["clinician"]


def before(drink: Drink, answers: dict[str, str | None], *decisions: Clearance) -> Gate:
    """Return the gate; a question whose answer is None is not asked."""
    given = {question: answer for question, answer in answers.items() if answer is not None}
    return gate(drink, given, clearances=decisions, table=TABLE)


def decided(found: Gate, kind: str | None = None) -> list[Clearance]:
    """Return a decision to go ahead on every closed bar, by the fittest person or by one kind."""
    return [
        Clearance(
            bar=bar.bar,
            substrate=found.drink.substrate,
            answer=bar.answer,
            go_ahead=True,
            by_name="Dr P. Quay",
            by_kind=kind or ("requester" if bar.question == "diabetes" and bar.answer == "yes"
                             else "specialist"),
            reason="invented",
        )
        for bar in found.closed
    ]  # fmt: skip


def faults(drink: Drink, answers: dict[str, str | None]) -> Iterator[str]:
    """Yield where the gate and the rules by hand disagree, without and with all decisions."""
    found = before(drink, answers)
    closing = [question for question in asked(drink) if answers[question] != "no"]
    if found.open != (not closing):
        yield f"{drink} {answers}: open is {found.open}"
    if {bar.question for bar in found.closed} != set(closing):
        yield f"{drink} {answers}: closed by {[bar.bar for bar in found.closed]}"
    may_go_ahead = all(who(question, answers[question], drink) for question in closing)
    if before(drink, answers, *decided(found)).open != may_go_ahead:
        yield f"{drink} {answers}: open with every decision is {not may_go_ahead}"


def answers_of_the_sugar(drink: Drink) -> Iterator[dict[str, str | None]]:
    """Yield every combination of answers to the sugar's own questions.

    Each comes once with no to the questions that every patient is asked, and once more with each
    other answer to each one of those.
    """
    own = [question for question in OF_SUGAR if question in asked(drink)]
    others = [(None, None)] + [(q, a) for q in EVERYBODY for a in ANSWERS[q] if a != "no"]
    for chosen in product(*(ANSWERS[question] for question in own)):
        for question, answer in others:
            answers: dict[str, str | None] = dict.fromkeys(MATTERS, "no")
            answers.update(zip(own, chosen, strict=True))
            if question is not None:
                answers[question] = answer
            yield answers


def pairs_of_answers() -> Iterator[dict[str, str | None]]:
    """Yield every pair of answers to every two questions, all others no."""
    for first, second in combinations(MATTERS, 2):
        for chosen in product(ANSWERS[first], ANSWERS[second]):
            answers: dict[str, str | None] = dict.fromkeys(MATTERS, "no")
            answers.update(zip((first, second), chosen, strict=True))
            yield answers


# Own combinations: lactose 256, with HFI 1280, and so on; each times 1 + 6 * 3 + 4.
COMBINATIONS = {
    ("lactose", "plain"): 256, ("fructose", "plain"): 20, ("glucose", "plain"): 16,
    ("lactulose", "plain"): 80, ("sorbitol", "plain"): 20, ("sucrose", "plain"): 320,
    ("xylose", "plain"): 4, ("lactose", "mixed"): 1280, ("fructose", "mixed"): 20,
    ("glucose", "mixed"): 80, ("lactulose", "mixed"): 80, ("sorbitol", "mixed"): 20,
    ("sucrose", "mixed"): 320, ("xylose", "mixed"): 20,
}  # fmt: skip


@pytest.mark.parametrize("drink", DRINKS, ids=lambda drink: f"{drink.substrate}-{drink.mix}")
def test_the_gate_agrees_with_the_rules_by_hand_for_every_answer_to_the_questions_of_a_sugar(
    drink: Drink,
) -> None:
    """All combinations of the sugar's own questions, unasked among them: 100,188 patients."""
    n_tried = 0
    for answers in answers_of_the_sugar(drink):
        assert list(faults(drink, answers)) == []
        n_tried += 1
    own = COMBINATIONS[drink.substrate, "plain" if drink.mix == PLAIN else "mixed"]
    assert n_tried == own * (1 + 6 * 3 + 4)


def test_the_combinations_are_as_many_as_is_said() -> None:
    """716 with a plain mix and 1820 with each of the two others, times 23."""
    plain = sum(n for (_, mix), n in COMBINATIONS.items() if mix == "plain")
    mixed = sum(n for (_, mix), n in COMBINATIONS.items() if mix == "mixed")
    assert (plain, mixed) == (716, 1820)
    assert (plain + 2 * mixed) * 23 == 100_188


@pytest.mark.parametrize("drink", DRINKS, ids=lambda drink: f"{drink.substrate}-{drink.mix}")
def test_the_gate_agrees_with_the_rules_by_hand_for_every_pair_of_answers(drink: Drink) -> None:
    """All pairs of all thirteen questions, also those that do not matter to the sugar.

    78 pairs: 55 of two four-answer questions, 22 of a four and a five, 1 of two fives, so 1345
    patients before each of 21 drinks, 28,245 in all.
    """
    patients = list(pairs_of_answers())
    assert len(patients) == 55 * 16 + 22 * 20 + 25
    assert [fault for answers in patients for fault in faults(drink, answers)] == []


KINDS = ("requester", "clinician", "doctor", "specialist")


@pytest.mark.parametrize("drink", DRINKS, ids=lambda drink: f"{drink.substrate}-{drink.mix}")
def test_each_kind_of_person_opens_what_the_rules_by_hand_allow_and_no_more(drink: Drink) -> None:
    """Every answer to every question that matters, by each kind of person."""
    for question in asked(drink):
        for answer in ANSWERS[question]:
            answers = {**dict.fromkeys(MATTERS, "no"), question: answer}
            found = before(drink, answers)
            for kind in KINDS:
                is_open = before(drink, answers, *decided(found, kind)).open
                may = answer == "no" or kind in who(question, answer, drink)
                assert is_open == may, f"{drink} {question} {answer} {kind}"


@pytest.mark.parametrize("kind", KINDS)
def test_a_decision_by_each_kind_is_recorded_or_refused_by_the_rules_by_hand(kind: str) -> None:
    """In a plain mix each answer closes one bar, so a decision on it opens or is refused."""
    n_refused = 0
    for drink in (drink for drink in DRINKS if drink.mix == PLAIN):
        for question in asked(drink):
            for answer in ANSWERS[question]:
                if answer == "no":
                    continue
                found = before(drink, {**dict.fromkeys(MATTERS, "no"), question: answer})
                (decision,) = decided(found, kind)
                if kind in who(question, answer, drink):
                    check_clearance(decision, TABLE)
                else:
                    n_refused += 1
                    with pytest.raises(SafetyError):
                        check_clearance(decision, TABLE)
    assert n_refused > 0


@pytest.mark.parametrize("sugar", sorted(HOLDS_FRUCTOSE))
@pytest.mark.parametrize("mix", MIXES)
def test_nothing_lets_fructose_reach_a_patient_with_known_hereditary_fructose_intolerance(
    sugar: str, mix: Mix
) -> None:
    """Source: GeneReviews, NBK333439: the challenge is dangerous and could result in death."""
    answers: dict[str, str | None] = {**dict.fromkeys(MATTERS, "no"), HFI: "known"}
    found = before(Drink(sugar, mix), answers)
    every = [decision for kind in KINDS for decision in decided(found, kind)]
    assert not before(Drink(sugar, mix), answers, *every).open


@pytest.mark.parametrize("sugar", SUGARS)
def test_nothing_lets_a_drink_reach_a_patient_who_was_not_asked(sugar: str) -> None:
    """Common practice, no source: not asked is not cleared, for each question by itself."""
    for mix in MIXES:
        drink = Drink(sugar, mix)
        for question in asked(drink):
            answers: dict[str, str | None] = {**dict.fromkeys(MATTERS, "no"), question: None}
            found = before(drink, answers)
            every = [decision for kind in KINDS for decision in decided(found, kind)]
            assert not before(drink, answers, *every).open


@pytest.mark.parametrize("sugar", SUGARS)
def test_a_mix_that_is_not_plain_is_a_danger_of_its_own_before_every_sugar(sugar: str) -> None:
    """Source: Orphanet J Rare Dis 2023, doi 10.1186/s13023-023-03011-x, table 4.

    Sorbitol, maltitol, isomalt, invert sugar and honey may sweeten a mix beside the sugar itself.
    """
    for mix in MIXES:
        for answer in ANSWERS[HFI]:
            found = before(Drink(sugar, mix), {**dict.fromkeys(MATTERS, "no"), HFI: answer})
            of_mix = [bar.bar for bar in found.closed if bar.bar.startswith(f"{HFI}-mix")]
            assert len(of_mix) == (mix != PLAIN and answer != "no")
