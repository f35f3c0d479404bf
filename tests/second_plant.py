"""Another true plant with something wrong, written apart from the package and from true_plant.py; nothing of hydrokit. SI.

What differs from the model that diagnoses: friction by Colebrook and White, solved here; a manifold
that takes head behind the gauge; a nozzle whose coefficient falls with the Reynolds number; a runner by
the momentum of jet and bucket less a windage that goes with the cube of its speed (best at 0.43 to 0.48
of the jet, runaway 1.9 to 2 times that, as published wheels have it), its speed held wholly or in part;
a hole part of the way down the pipe; a pocket of air that the pressure compresses;
a gauge whose error goes with its scale; volts and amps read apart, and rounded as people round.
"""

from dataclasses import dataclass, replace

import numpy as np

GRAVITY, DENSITY, VISCOSITY, ATMOSPHERE = 9.81, 999.0, 1.25e-6, 9.9
PSI, BAR, INCH, FOOT = 6894.757, 1e5, 0.0254, 0.3048

# Three sizes of each state: share of the full flow that arrives, of the head, of one jet, of all jets,
# of the watts, of the pressure with all shut; metres drawn.
SIZES = {
    "under_fed": (0.88, 0.65, 0.4), "air": (0.07, 0.14, 0.3), "drawn": (2.0, 3.0, 4.0), "friction": (0.08, 0.18, 0.4),
    "blocked": (0.45, 0.75, 1.0), "worn": (0.45, 0.7, 1.0), "leak": (0.1, 0.22, 0.5), "machine": (0.12, 0.3, 0.6),
    "gauge": (-0.07, 0.12, -0.25), "stuck": (0.3, 0.6, 1.0),
}  # fmt: skip
SILENT = (("machine", 1.0), ("under_fed", 0.0))  # a dead machine and a dry pipe


@dataclass(frozen=True)
class SecondPlant:
    """Head, pipe, jets, machine and gauge as they are."""

    head: float
    bore: float
    length: float
    roughness: float
    fittings: float
    jets: int
    jet_bore: float
    coefficient: float
    efficiency: float  # at its best head
    held: (
        float  # share of the runner's speed that is held: 1 at a governor, 0 where the load follows
    )
    step_pa: float  # that the gauge is read to
    step_w: float
    friction_factor: float = 1.0
    manifold: float = 1.2  # velocity heads of the pipe, behind the gauge
    pace: float = (
        0.455  # speed of the buckets over the ideal speed of the jet where the runner is best
    )
    windage: float = 0.02  # of the full watts, whatever comes
    hole_at: float = 0.8  # share of the pipe above a leak

    def loss(self, flow, share=1.0):
        """Head lost in some share of the pipe."""
        speed = flow / (np.pi / 4 * self.bore**2)
        if speed < 1e-9:
            return 0.0
        reynolds = speed * self.bore / VISCOSITY
        root = 7.0  # of 1 / f
        for _ in range(12):  # Colebrook and White by substitution
            root = -2 * np.log10(self.roughness / self.bore / 3.7 + 2.51 * root / reynolds)
        metres = self.length / self.bore / root**2 + self.fittings
        return share * self.friction_factor * metres * speed**2 / (2 * GRAVITY)

    def behind(self, area, flow):
        """Energy head at the gauge that drives a flow through jets of an area."""
        speed = flow / (np.pi / 4 * self.bore**2)
        jet = (flow / area) ** 2 / (2 * GRAVITY)
        jet *= (
            1 + 0.01 * (jet / (0.9 * self.head)) ** -0.1 - 0.01
        )  # thicker boundary layer in a slow jet
        return jet + self.manifold * speed**2 / (2 * GRAVITY)

    def _settled(
        self, area, hole=0.0, place=1.0, drawn=0.0, pocket=0.0, valve=0.0, arriving=np.inf
    ):
        """Flow of the jets, flow into the pipe, energy head at the gauge, whether under-fed."""
        under = (
            ATMOSPHERE + 0.4 * self.head
        )  # absolute head at the pocket, above the gauge by 0.6 of it
        usual = under - 0.4 * self.loss(self.full[0]) if pocket else 1.0

        def asked(unknown):
            """Flow into the pipe and the head at the forebay that it needs; unknown is the flow of the jets, or the head where none is open."""
            flow, gauge = (unknown, self.behind(area, unknown)) if area > 0 else (0.0, unknown)
            at_hole = gauge + self.loss(flow, 1 - place)
            lost = hole * np.sqrt(2 * GRAVITY * max(at_hole - (1 - place) * self.head, 0.0))
            whole = flow + lost
            squeezed = usual / max(under - 0.4 * self.loss(whole), 1.0) if pocket else 0.0
            up = self.loss(whole, place) + valve * whole**2
            return whole, at_hole + up + pocket * squeezed + drawn, gauge

        def found(column, target, high):
            low = 0.0
            for _ in range(45):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if asked(middle)[column] < target else (low, middle)
            return low

        most = area * np.sqrt(2 * GRAVITY * self.head) if area > 0 else self.head
        at = found(1, self.head, most)
        starved = bool(asked(at)[0] > arriving + 1e-12)
        at = found(0, arriving, at) if starved else at
        whole, _, gauge = asked(at)
        return (at if area > 0 else 0.0), whole, gauge, starved

    @property
    def full(self):
        """Flow, and energy head at the gauge, with all jets open and nothing wrong."""
        if self not in _FULL:
            through, _, gauge, _ = self._settled(self.jets * self._area)
            _FULL[self] = (through, gauge)
        return _FULL[self]

    @property
    def _area(self):
        return self.coefficient * np.pi / 4 * self.jet_bore**2

    def true_reading(self, jets, state="well", size=0.0, jet=1, also=()):
        """Pressure on the gauge, watts, flow into the pipe, under-fed or not, with so many jets open; `also`: (state, size, jet)."""
        wrong = {name: (amount, where) for name, amount, where in ((state, size, jet), *also)}

        def of(name):
            return wrong.get(name, (0.0, 1))[0]

        full, _ = self.full
        area = float(jets)
        for name, sign in (("blocked", -1), ("worn", 1)):
            amount, where = wrong.get(name, (0.0, 1))
            if where == 0:  # all alike: a share of one jet, shared by all that are open
                area += sign * amount * jets / self.jets
            else:
                area += sign * amount if jets >= where else 0.0
        area = max(area, 0.0) * self._area
        arriving = of("under_fed") * full if "under_fed" in wrong else np.inf
        if arriving <= 0:
            return max(of("gauge"), 0.0) * self.static_pa, 0.0, 0.0, True
        through, whole, gauge, starved = self._settled(
            area,
            of("leak") * self.jets * self._area,
            self.hole_at if "leak" in wrong else 1.0,
            of("drawn"),
            of("air") * self.head,
            of("friction") * self.head / full**2,
            arriving,
        )
        speed = whole / (np.pi / 4 * self.bore**2)
        pressure = DENSITY * GRAVITY * max(gauge - speed**2 / (2 * GRAVITY), 0.0)
        pressure += of("gauge") * self.static_pa
        if "stuck" in wrong:
            pressure = of("stuck") * self.static_pa
        return (
            max(pressure, 0.0),
            self._watts(jets, through, area) * (1 - of("machine")),
            whole,
            starved,
        )

    @property
    def static_pa(self):
        """Pressure with everything shut."""
        return DENSITY * GRAVITY * self.head

    def _watts(self, jets, through, area):
        if through <= 0 or area <= 0:
            return 0.0
        jet = (through / area) ** 2 / (2 * GRAVITY)
        best = self.full[1]
        # momentum of a jet of speed 0.97 on buckets of speed x, less windage as x cubed, so much that it is best
        # at `pace`; the speed x is held, or follows the jet in part
        x = self.pace * (jet / best) ** (-0.5 * self.held)
        drag = (0.97 - 2 * self.pace) / (3 * self.pace**2)
        wheel = max(x * (0.97 - x) - drag * x**3, 0.0)
        wheel /= self.pace * (0.97 - self.pace) - drag * self.pace**3
        made = DENSITY * GRAVITY * through * jet * self.efficiency * wheel
        whole = DENSITY * GRAVITY * self.full[0] * best * self.efficiency
        return max(made - self.windage * whole * (0.5 + 0.5 * jets / self.jets), 0.0)

    def read(
        self,
        random,
        jets,
        state="well",
        size=0.0,
        jet=1,
        gauge_noise=0.01,
        meter_noise=0.01,
        also=(),
    ):
        """The same as somebody would write it down: pressure, watts, spilling, fluctuating."""
        pressure, watts, _, starved = self.true_reading(jets, state, size, jet, also)
        states = {state, *(name for name, *_ in also)}
        if "stuck" not in states and pressure > 0:
            pressure += gauge_noise * self.static_pa * random.standard_normal()
        volts = 1 + 0.6 * meter_noise * random.standard_normal()
        amps = 1 + 0.8 * meter_noise * random.standard_normal()
        pressure = self.step_pa * np.round(max(pressure, 0.0) / self.step_pa)
        watts = self.step_w * np.round(watts * volts * amps / self.step_w)
        spilling = not starved and "drawn" not in states
        if "leak" in states and random.random_sample() < 0.15:
            spilling = False  # the hole takes what was over
        often = 0.8 if starved else 0.35 if "air" in states else 0.04
        return float(pressure), float(watts), spilling, bool(random.random_sample() < often)

    def size_of(self, state, size):
        """A planted size as the diagnosis measures it: a hole as one beside the gauge that loses as much, air and friction as head."""
        if state == "under_fed":
            return 1 - size
        if state in ("air", "friction"):
            return size * self.head
        if state in ("gauge", "stuck"):
            return size * self.static_pa
        if state == "leak":
            area = self.jets * self._area
            through, whole, gauge, _ = self._settled(area, hole=size * area, place=self.hole_at)
            return (whole - through) / (area * np.sqrt(2 * GRAVITY * gauge))
        return size

    def drawn(self, random, coefficient_sd=0.04, loss_sd=0.2):
        """A plant that differs from this one as plants differ from their site files."""
        return replace(
            self,
            coefficient=self.coefficient * float(np.exp(coefficient_sd * random.standard_normal())),
            friction_factor=float(np.exp(loss_sd * random.standard_normal())),
            efficiency=self.efficiency * float(np.exp(0.06 * random.standard_normal())),
            manifold=random.uniform(0.5, 2.0),
            pace=random.uniform(0.43, 0.48),
            windage=random.uniform(0.01, 0.035),
            hole_at=random.uniform(0.6, 1.0),
        )


_FULL = {}

METRIC = SecondPlant(118.0, 0.128, 530.0, 2e-5, 4.0, 6, 0.0098, 0.94, 0.62, 0.4, 0.05 * BAR, 10.0)
US = SecondPlant(
    66 * FOOT, 5.9 * INCH, 420 * FOOT, 6e-5, 3.0, 3, 0.8 * INCH, 0.93, 0.52, 1.0, 0.25 * PSI, 5.0
)
SECOND = {"metric": METRIC, "us": US}
