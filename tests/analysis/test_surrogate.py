"""The fitted formula against closed forms, and against crossed samples of a real crossing."""

import numpy as np
import pytest
from known_answers import ISHIGAMI_FIRST, ISHIGAMI_TOTAL, WideChannel, ishigami, scores, standard_error
from scipy.special import betaincinv, ndtr

from benchmarks import rivals, site
from overbank.analysis import sensitivity, surrogate
from overbank.errors import DomainError


def flat(replicates, samples, dimension, seed):
    return scores(replicates, samples, dimension, seed).reshape(-1, dimension)


def depth(z):
    return WideChannel().depth(12 * np.exp(0.35 * z[:, 0]), z[:, 1])


@pytest.fixture(scope="module")
def channel():
    z = flat(8, 256, 2, seed=91)
    return surrogate.fit(z, depth(z), ["flow", "n"], order=4)


def test_wide_channel(channel):
    # closed form of the lognormal channel
    np.testing.assert_allclose(channel.indices["first"], [0.748391884, 0.240753306], atol=1e-4)
    np.testing.assert_allclose(channel.indices["total"], [0.759246694, 0.251608116], atol=1e-4)
    assert channel.basis == surrogate.HERMITE
    assert channel.q2 > 0.999999
    assert (channel.trained, channel.unseen) == (1536, 512)
    # mean and sd of a lognormal: exp(m + s^2/2) and that times sqrt(exp(s^2) - 1), m = ln 1.100998135, s = 0.241867732
    mean = 1.100998135 * np.exp(0.241867732**2 / 2)
    assert channel.coefficients[0] == pytest.approx(mean, rel=1e-4)
    sd = mean * np.sqrt(np.expm1(0.241867732**2))
    assert np.sqrt(np.sum(channel.coefficients[1:] ** 2)) == pytest.approx(sd, rel=1e-3)


def test_its_stated_error_is_that_on_samples_never_seen(channel):
    z = flat(4, 2048, 2, seed=92)
    missed = channel.predict(z) - depth(z)
    assert np.sqrt(np.mean(missed**2)) == pytest.approx(channel.rmse, rel=0.3)
    assert 1 - np.mean(missed**2) / np.var(depth(z)) == pytest.approx(channel.q2, abs=1e-6)


def test_predictions_do_not_depend_on_pieces(channel, monkeypatch):
    z = flat(1, 128, 2, seed=93)
    whole = channel.predict(z)
    monkeypatch.setattr(surrogate, "PIECE", 50)
    np.testing.assert_allclose(channel.predict(z), whole, rtol=1e-14)


def test_ishigami():
    z = flat(8, 512, 3, seed=94)
    found = surrogate.fit(z, ishigami(z), ["x1", "x2", "x3"], order=9)
    np.testing.assert_allclose(found.indices["first"], ISHIGAMI_FIRST, atol=2e-3)
    np.testing.assert_allclose(found.indices["total"], ISHIGAMI_TOTAL, atol=2e-3)
    assert found.basis == surrogate.LEGENDRE
    assert 0.999 < found.q2 < 1.0


def crossing(z):
    """Level above the screened culvert and road of the benchmarks; seven uncertain numbers."""
    return site.compiled_levels(
        rivals.Samples(
            flow=7.5 * np.exp(0.18 * z[:, 0]),
            tailwater=31.1 + 0.15 * z[:, 1],
            manning=0.014 * np.exp(0.08 * z[:, 2]),
            factor=1.0 + 0.05 * z[:, 3],
            entrance=0.4 + 0.04 * z[:, 4],
            blockage=betaincinv(1.5, 2.5, ndtr(z[:, 5])),
            road=1.4 + 0.3 * ndtr(z[:, 6]),
        )
    )


def test_a_real_crossing_agrees_with_crossed_samples():
    names = list(rivals.Samples.__dataclass_fields__)
    z = flat(16, 512, 7, seed=95)
    found = surrogate.fit(z, crossing(z), names, order=3)
    both = scores(16, 512, 14, seed=96)
    outputs = [
        crossing(block.reshape(-1, 7)).reshape(16, 512) for block in sensitivity.blocks(both[..., :7], both[..., 7:])
    ]
    table = sensitivity.indices(np.stack(outputs, axis=1), names, dummy=False).table
    # what the formula cannot foretell is all that it can be wrong by, beside the noise of the crossed samples
    assert 0.95 < found.q2 < 1.0
    for kind in ("first", "total"):
        noise = standard_error(table[f"{kind}_low"], table[f"{kind}_high"], 16)
        away = np.abs(found.indices[kind] - table[kind])
        assert np.all(away <= 4 * noise + (1 - found.q2)), (found.q2, away, noise)
    assert found.indices["first"].idxmax() == table["first"].idxmax()


def test_the_formula_in_plain_text(channel):
    text = channel.formula("depth", terms=3)
    lines = text.splitlines()
    assert lines[0] == f"depth = {channel.coefficients[0]:.4g}"
    assert lines[1].endswith(" h1(flow)")
    assert lines[2].endswith(" h1(n)")
    assert lines[3].endswith(" h2(flow)")
    assert lines[4].startswith("    and 11 smaller terms, ")
    assert lines[5] == "h1, h2, ...: Hermite polynomials of the normal score of an input, orthonormal"
    assert lines[6:] == ["    h1 = z", "    h2 = 0.7071 z^2 - 0.7071"]


def test_the_formula_can_be_worked_out_by_hand():
    # two terms of Legendre's polynomials of the probability: y = 2 + 3 h1(a) - 0.5 h2(b)
    z = flat(8, 64, 2, seed=97)
    u = ndtr(z)
    h1, h2 = np.sqrt(3) * (2 * u[:, 0] - 1), np.sqrt(5) * (6 * u[:, 1] ** 2 - 6 * u[:, 1] + 1)
    found = surrogate.fit(z, 2 + 3 * h1 - 0.5 * h2, ["a", "b"], order=2)
    assert found.formula("y", terms=2).splitlines() == [
        "y = 2",
        "    + 3 h1(a)",
        "    - 0.5 h2(b)",
        "    and 3 smaller terms, " + found.formula("y", terms=2).split("smaller terms, ")[1].splitlines()[0],
        "h1, h2, ...: Legendre polynomials of the probability of an input, orthonormal",
        "    h1 = 3.464 u - 1.732",
        "    h2 = 13.42 u^2 - 13.42 u + 2.236",
    ]
    assert found.rmse < 1e-12


def test_failed_runs_are_left_out_and_many_refused():
    z = flat(8, 256, 2, seed=91)
    y = depth(z)
    y[5::200] = np.nan
    assert surrogate.fit(z, y, ["flow", "n"], order=4).q2 > 0.999999
    y[5::50] = np.nan
    with pytest.raises(DomainError, match="refused"):
        surrogate.fit(z, y, ["flow", "n"], order=4)


def test_refusals():
    z = flat(8, 32, 4, seed=98)
    with pytest.raises(DomainError, match=r"order 5 in 4 inputs has 126 terms and needs 336 samples; got 256"):
        surrogate.fit(z, z[:, 0], list("abcd"), order=5)
    with pytest.raises(DomainError, match="order of 1 or more and scores of 3 inputs; got order 2 and 4 columns"):
        surrogate.fit(z, z[:, 0], list("abc"), order=2)
    with pytest.raises(DomainError, match="does not vary"):
        surrogate.fit(z, np.full(256, 31.2), list("abcd"), order=1)
    tied = z.copy()
    tied[:, 1] = 0.8 * tied[:, 0] + 0.6 * tied[:, 1]
    with pytest.raises(DomainError, match=r"independent scores; got columns with a sample correlation of 0\.8"):
        surrogate.fit(tied, z[:, 0], list("abcd"), order=1)
    with pytest.raises(DomainError, match="infinite"):
        surrogate.fit(z, np.where(z[:, 0] > 0, np.inf, 0.0), list("abcd"), order=1)
