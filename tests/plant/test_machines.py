"""Machines of different size on one pipe, against scipy's search over the shares, and against machines all alike."""

import itertools

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq, minimize

from hydrokit.energy.uncertain_inputs import Uncertainties
from hydrokit.energy.uncertainty import energy_uncertainty
from hydrokit.energy.year import annual_energy
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.machines import Machine, Machines, together
from hydrokit.plant.parts import Adjustable, MeasuredLoss, Penstock, Runner
from hydrokit.plant.turbine import PartLoad, part_load
from hydrokit.stream.rights import fixed, resolve_rights

# A curve that rises and falls, as that of guide vanes does; and a flatter one.
STEEP = ([0.4, 0.6, 0.8, 1.0], [0.55, 0.74, 0.86, 0.82])
FLAT = ([0.1, 0.3, 0.6, 1.0], [0.60, 0.74, 0.78, 0.75])
BIG, SMALL = (0.030, STEEP), (0.012, FLAT)
HEAD, LOSS, DENSITY, GRAVITY = 40.0, 4000.0, 999.7, 9.80665


def machine(flow, curve, name="machine"):
    return Machine(
        flow,
        PartLoad(
            "machine",
            np.array(curve[0]),
            np.array(curve[1]),
            minimum_ratio=curve[0][0],
            source="made up",
            mark="test",
        ),
        name,
    )


def plant(*made, loss=LOSS):
    machines = Machines(tuple(machine(*each, name=str(place)) for place, each in enumerate(made)))
    return Chain(
        Penstock(MeasuredLoss(loss), HEAD),
        machines,
        Runner(machines.part_load),
        density_kgm3=DENSITY,
    )


def best_power(arriving, made, loss=LOSS):
    """Oracle: for each set of machines, the best of a mesh of shares, then scipy's search from there; the head is that of all their flow."""
    best = 0.0
    for count in range(1, len(made) + 1):
        for chosen in itertools.combinations(made, count):
            low, high = [flow * curve[0][0] for flow, curve in chosen], [flow for flow, _ in chosen]
            if sum(low) > arriving:
                continue

            def power(*share):
                total = sum(share)
                given = (
                    DENSITY
                    * GRAVITY
                    * (HEAD - loss * total**2)
                    * sum(
                        q * np.interp(q / flow, *curve) for q, (flow, curve) in zip(share, chosen)
                    )
                )
                return np.where(total > arriving * (1 + 1e-12), 0.0, given)

            # meshed in the shares of all but the last, which takes what is left as far as it can; and of less water
            mesh = (
                np.meshgrid(
                    *(
                        np.linspace(a, b, {1: 2, 2: 3001, 3: 161}[count])
                        for a, b in zip(low[:-1], high[:-1])
                    ),
                    indexing="ij",
                )
                if count > 1
                else []
            )
            rest = (
                np.clip(arriving - sum(mesh), low[-1], high[-1])
                if count > 1
                else np.array([min(arriving, high[-1])])
            )
            shares = np.stack([*mesh, rest])
            found = power(*shares)
            start = shares.reshape(count, -1)[:, int(np.argmax(found))]
            polished = minimize(
                lambda share: -float(power(*np.clip(share, low, high))),
                start,
                method="Nelder-Mead",
                options={"xatol": 1e-9, "fatol": 1e-6},
            )
            best = max(best, float(found.max()), -float(polished.fun))
    return best


@pytest.mark.parametrize(
    "arriving", [0.0008, 0.0015, 0.006, 0.011, 0.0131, 0.02, 0.027, 0.033, 0.038, 0.042, 0.06]
)
def test_two_machines_against_scipys_search(arriving):
    """2e-4: straight lines of the efficiency between nodes of the total flow, and the oracle's own search."""
    found = float(plant(BIG, SMALL).at_si(arriving).power_w)
    assert found == pytest.approx(best_power(arriving, (BIG, SMALL)), rel=2e-4)


@pytest.mark.parametrize("arriving", [0.005, 0.019, 0.036, 0.047])
def test_three_machines_against_scipys_search(arriving):
    made = (BIG, SMALL, (0.006, STEEP))
    assert float(plant(*made).at_si(arriving).power_w) == pytest.approx(
        best_power(arriving, made), rel=4e-4
    )


def test_a_pipe_too_narrow_for_both_is_given_less():
    """independent: brentq on the slope of flow · head · efficiency of both; more than that flow is left to spill."""
    narrow = plant((0.030, FLAT), (0.029, FLAT), loss=9000.0)
    full = float(narrow.at_si(1.0).used_m3s)
    curve = together(narrow.jets.machines)
    power = lambda q: (
        q
        * (HEAD - 9000.0 * q**2)
        * float(np.interp(q / 0.059, curve.flow_ratios, curve.efficiencies))
    )  # noqa: E731
    wanted = brentq(lambda q: power(q * (1 + 1e-6)) - power(q), 0.02, 0.058)
    assert full == pytest.approx(wanted, rel=1e-4) and full < 0.058


def test_machines_all_alike_are_nearly_the_units_there_were():
    """Equal units share the water alike; sharing it otherwise wins where the curve is hollow between its points, less than a thousandth."""
    kind = part_load.si("kaplan")
    alike = Machines((Machine(0.02, kind), Machine(0.02, kind), Machine(0.02, kind)))
    units = Adjustable(0.06, 3)
    pipe = Penstock(MeasuredLoss(2000.0), 12.0)
    one, other = Chain(pipe, alike, Runner(alike.part_load)), Chain(pipe, units, Runner(kind))
    flow = np.linspace(0, 0.07, 141)
    first, second = one.at_si(flow), other.at_si(flow)
    np.testing.assert_allclose(first.power_w, second.power_w, rtol=1e-3, atol=1e-6)
    assert (first.power_w >= second.power_w * (1 - 1e-4)).all()  # nodes of the total flow
    full = flow >= 0.06
    np.testing.assert_allclose(first.power_w[full], second.power_w[full], rtol=1e-12)


def test_one_machine_is_that_machine():
    kind = part_load.si("francis")
    assert together((Machine(0.03, kind),)) is kind
    pipe = Penstock(MeasuredLoss(2000.0), 30.0)
    single, usual = (
        Chain(pipe, Machines((Machine(0.03, kind),)), Runner(kind)),
        Chain(pipe, Adjustable(0.03), Runner(kind)),
    )
    flow = np.linspace(0, 0.05, 101)
    np.testing.assert_array_equal(single.at_si(flow).power_w, usual.at_si(flow).power_w)


def test_the_curve_is_the_plant_and_never_falls_below_a_set():
    chain = plant(BIG, SMALL)
    curve, flow = chain.curve(), np.linspace(0, 0.05, 333)
    np.testing.assert_allclose(curve.power_si(flow), chain.at_si(flow).power_w, rtol=2e-3, atol=2.0)
    single = [
        Chain(chain.penstock, Machines((each,)), Runner(each.part_load), density_kgm3=DENSITY)
        .at_si(flow)
        .power_w
        for each in chain.jets.machines
    ]
    assert (chain.at_si(flow).power_w >= np.max(single, axis=0) - 1e-9).all()
    names = [
        chain.jets.sets[each]
        for each in (int(chain.at_si(q).opening) for q in (0.003, 0.024, 0.04))
    ]
    assert names == [("1",), ("0",), ("1", "0")]
    power = chain.density_kgm3 * GRAVITY * flow * HEAD
    assert (chain.at_si(flow).power_w <= power + 1e-9).all()


def test_years_and_uncertainty_take_them_as_they_take_any_plant():
    dates = pd.date_range("2019-10-01", "2021-09-30")
    usable = pd.Series(
        0.022 + 0.018 * np.cos(2 * np.pi * np.arange(len(dates)) / 365.25), dates, name="flow_m3s"
    )
    chain = plant(BIG, SMALL)
    year = annual_energy(usable, chain.curves())
    by_day = float((chain.at_si(usable.to_numpy()).power_w * 0.024).sum() / 2)
    assert year.annual_kwh == pytest.approx(by_day, rel=1e-3)
    uncertainty = energy_uncertainty(
        usable, resolve_rights([fixed("0 L/s")]), chain, Uncertainties(0.08), draws=300
    )
    assert uncertainty.annual_kwh(50) == pytest.approx(
        year.annual_kwh, rel=0.03
    ) and uncertainty.annual_kwh(90) < uncertainty.annual_kwh(50)
    only_head = chain.factors(head=np.array([[0.97], [1.0], [1.03]]))
    powers = only_head.at_si(np.array([0.01, 0.03])).power_w
    assert powers.shape == (3, 2) and (np.diff(powers, axis=0) > 0).all()
    assert powers[1] == pytest.approx(chain.at_si(np.array([0.01, 0.03])).power_w)


def test_what_cannot_be():
    with pytest.raises(HydrokitError, match="1 to 4"):
        Machines(())
    with pytest.raises(HydrokitError, match="above zero"):
        machine(0.0, FLAT)
