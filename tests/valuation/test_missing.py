"""What a missing number may have been."""

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose

from valuation.missing import NODE_WEIGHTS, NODES, Joint, learn_joint
from valuation.reading import Array, Roles, Table, read

ROLES = Roles(smooth=("age", "miles"), rising=("grade",), flags=("open",))


def table(*, rows: int = 4000, gaps: bool = True) -> tuple[Table, Array]:
    rng = np.random.default_rng(0)
    age = rng.normal(30, 10, size=rows)
    miles = 2000 * age + rng.normal(0, 10_000, size=rows)
    grade = 80 - age + rng.normal(0, 5, size=rows)
    frame = pd.DataFrame({"age": age, "miles": miles, "grade": grade, "open": (rng.random(rows) < 0.3) * 1.0})
    truth = frame["miles"].to_numpy().copy()
    if gaps:
        frame.loc[rng.random(rows) < 0.3, "miles"] = np.nan
        frame.loc[rng.random(rows) < 0.5, "grade"] = np.nan
        frame.loc[rng.random(rows) < 0.1, "open"] = np.nan
    return read(frame, roles=ROLES), truth


def joint_of(sample: Table) -> Joint:
    return learn_joint(sample, correlated=("age", "miles"), rising=("grade",), alone=("open",))


def test_nodes_average_a_square_to_the_variance() -> None:
    assert_allclose([NODE_WEIGHTS.sum(), NODE_WEIGHTS @ NODES, NODE_WEIGHTS @ NODES**2], [1, 0, 1], atol=1e-12)


def test_a_guess_is_the_regression_on_what_is_known() -> None:
    """The history was drawn with miles = 2000 age ± 10,000: the guess finds both again."""
    sample, truth = table()
    guess = joint_of(sample).guesses(sample)["miles"]
    error = truth[guess.rows] - guess.mean
    assert abs(error.mean()) < 1000
    assert_allclose(error.std(), 10_000, rtol=0.06)
    assert_allclose(guess.sd, 10_000, rtol=0.06)


def test_without_gaps_it_is_the_plain_covariance_with_a_weak_prior() -> None:
    sample, _ = table(gaps=False)
    joint = joint_of(sample)
    plain = np.corrcoef([sample.numbers[name] for name in ("age", "miles", "grade")])
    assert_allclose(joint.correlation[:3, :3], plain, atol=5 / 4000)
    assert joint.guesses(sample) == {}


def test_a_rising_input_informs_no_guess() -> None:
    sample, _ = table()
    joint = joint_of(sample)
    frames = [pd.DataFrame({"age": [30.0], "miles": [None], "grade": [grade], "open": [0.0]}) for grade in (10.0, 90.0)]
    low, high = (joint.guesses(read(frame, roles=ROLES))["miles"] for frame in frames)
    assert low.mean == high.mean


def test_a_rising_input_is_guessed_from_the_others() -> None:
    sample, _ = table()
    frame = pd.DataFrame({"age": [20.0, 40.0], "miles": [None, None], "grade": [None, None], "open": [0.0, 0.0]})
    guess = joint_of(sample).guesses(read(frame, roles=ROLES))["grade"]
    assert_allclose(guess.mean, [60, 40], atol=1)
    assert_allclose(guess.sd, 5, rtol=0.1)


def test_a_flag_is_guessed_by_its_rate() -> None:
    sample, _ = table()
    guess = joint_of(sample).guesses(sample)["open"]
    assert_allclose(guess.mean, 0.3, atol=0.03)
    assert_allclose(guess.sd, np.sqrt(0.3 * 0.7), atol=0.02)


def test_a_vehicle_of_which_nothing_is_known_is_the_average_one() -> None:
    sample, _ = table()
    nothing = pd.DataFrame({name: [None] for name in ("age", "miles", "grade", "open")})
    guess = joint_of(sample).guesses(read(nothing, roles=ROLES))
    assert_allclose(guess["age"].mean, 30, atol=1)
    assert_allclose(guess["age"].sd, 10, rtol=0.05)
