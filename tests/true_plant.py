"""A true plant with something wrong, from the laws alone; it imports nothing of hydrokit. SI units.

Swamee-Jain friction, n jets of known area and coefficient, under-fed jets, a runner that is less good
away from its head. Its readings are what a diagnosis is held against.
"""

from dataclasses import dataclass, replace

import numpy as np

GRAVITY, DENSITY, VISCOSITY = 9.80665, 999.7, 1.306e-6
STATES = (
    "well",
    "under_fed",
    "air",
    "drawn",
    "friction",
    "blocked",
    "worn",
    "leak",
    "machine",
    "gauge",
    "stuck",
)
# Three sizes of each: as shares of full flow, head, one jet, watts, static pressure; metres drawn.
SIZES = {
    "well": (0.0,), "under_fed": (0.9, 0.7, 0.4), "air": (0.06, 0.12, 0.25), "drawn": (2.0, 3.0, 4.0), "friction": (0.06, 0.15, 0.4), "blocked": (0.4, 0.7, 1.0),
    "worn": (0.4, 0.7, 1.0), "leak": (0.08, 0.2, 0.5), "machine": (0.1, 0.25, 0.6), "gauge": (-0.06, 0.1, -0.25), "stuck": (0.3, 0.6, 1.0),
}  # fmt: skip


@dataclass(frozen=True)
class TruePlant:
    """Head, pipe, jets and machine as they are."""

    head: float
    bore: float
    length: float
    roughness: float
    fittings: float
    jets: int
    jet_bore: float
    coefficient: float
    efficiency: float
    loss_factor: float = 1.0

    @property
    def jet_area(self):
        return self.coefficient * np.pi / 4 * self.jet_bore**2

    def loss(self, flow):
        """Head lost in the pipe."""
        speed = flow / (np.pi / 4 * self.bore**2)
        reynolds = np.maximum(speed * self.bore / VISCOSITY, 1.0)
        factor = 0.25 / np.log10(self.roughness / self.bore / 3.7 + 5.74 / reynolds**0.9) ** 2
        return (
            self.loss_factor
            * (factor * self.length / self.bore + self.fittings)
            * speed**2
            / (2 * GRAVITY)
        )

    def settle(self, area, head, friction=0.0, air=0.0):
        """Head at the jets when so much area stands open, by bisection; air of so much head with all jets running keeps pressure times height."""
        low, high = 0.0, head
        full = 10 + 0.4 * (head - self.loss(self.full_flow)) if air else 1.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            flow = area * np.sqrt(2 * GRAVITY * middle)
            lost = self.loss(flow)
            pocket = air * full / (10 + 0.4 * (head - lost)) if air else 0.0
            low, high = (
                (middle, high)
                if middle + lost + friction * flow**2 + pocket < head
                else (low, middle)
            )
        return low

    @property
    def full_flow(self):
        area = self.jets * self.jet_area
        return area * np.sqrt(2 * GRAVITY * self.settle(area, self.head))

    def true_reading(self, jets, state="well", size=0.0, jet=1, also=()):
        """Pressure on the gauge, watts, flow into the pipe, under-fed or not, with so many jets open.

        `also` holds what else is wrong, as (state, size, jet).
        """
        wrong = {name: (amount, place) for name, amount, place in ((state, size, jet), *also)}

        def of(name):
            return wrong.get(name, (0.0, 1))[0]

        head = self.head - of("drawn")
        friction = of("friction") * self.head / self.full_flow**2
        area = float(jets)
        for name, sign in (("blocked", -1), ("worn", 1)):
            amount, place = wrong.get(name, (0.0, 1))
            area += sign * amount if jets >= place else 0.0
        area = max(area, 0.0) * self.jet_area
        hole = of("leak") * self.jets * self.jet_area
        net = self.settle(area + hole, head, friction, of("air") * self.head)
        flow = (area + hole) * np.sqrt(2 * GRAVITY * net)
        arriving = of("under_fed") * self.full_flow if "under_fed" in wrong else np.inf
        under_fed = arriving < flow
        if under_fed:
            flow, net = arriving, (arriving / (area + hole)) ** 2 / (2 * GRAVITY)
        through = flow * area / (area + hole) if area + hole > 0 else 0.0
        off = 1 - 0.25 * max(1 - np.sqrt(net / self.head) - 0.08, 0.0)
        few = (max(jets, 1) / self.jets) ** 0.04
        watts = DENSITY * GRAVITY * through * net * self.efficiency * few * off
        watts *= 1 - of("machine")
        static = DENSITY * GRAVITY * self.head
        pressure = DENSITY * GRAVITY * net + of("gauge") * static
        if "stuck" in wrong:
            pressure = of("stuck") * static
        return max(pressure, 0.0), watts, flow, under_fed

    def read(
        self,
        random,
        jets,
        state="well",
        size=0.0,
        jet=1,
        gauge_noise=0.02,
        meter_noise=0.02,
        also=(),
    ):
        """The same as somebody would write it down: pressure, watts, spilling, fluctuating."""
        pressure, watts, _, under_fed = self.true_reading(jets, state, size, jet, also)
        states = {state, *(name for name, *_ in also)}
        if "stuck" not in states:
            pressure *= 1 + gauge_noise * random.standard_normal()
        spilling = not under_fed and "drawn" not in states
        fluctuates = bool(
            random.random_sample() < (0.85 if under_fed else 0.3 if "air" in states else 0.03)
        )
        return pressure, watts * (1 + meter_noise * random.standard_normal()), spilling, fluctuates

    def drawn(self, random, coefficient_sd=0.05, loss_sd=0.20):
        """A plant that differs from this one as plants differ from their site files."""
        return replace(
            self,
            coefficient=self.coefficient * (1 + coefficient_sd * random.standard_normal()),
            loss_factor=max(1 + loss_sd * random.standard_normal(), 0.3),
            efficiency=self.efficiency * (1 + 0.05 * random.standard_normal()),
        )


FOOT, INCH, PSI = 0.3048, 0.0254, 6894.757
# Read in the units of its gauge: to half a psi, and to ten watts.
US_PLANT = TruePlant(151 * FOOT, 4.03 * INCH, 710 * FOOT, 3e-5, 3.0, 4, 0.47 * INCH, 0.95, 0.55)

PLANTS = {
    "four small jets": TruePlant(50.0, 0.1015, 274.0, 3e-5, 3.0, 4, 0.0127, 0.95, 0.53),
    "two large jets": TruePlant(46.0, 0.1154, 384.0, 3e-5, 2.8, 2, 0.0198, 0.95, 0.66),
    "three jets, long pipe": TruePlant(90.0, 0.0814, 620.0, 3e-5, 5.0, 3, 0.0100, 0.93, 0.58),
}
