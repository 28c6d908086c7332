"""A second timing law, for tests: it steps through ticks and looks at what was really done.

Slow and plain on purpose. No ledger is kept: whether a set may start is asked anew at every tick
of the flat list of bouts done so far. Readings where the text leaves room:

- In a round, every bout has its own exercise's T, L, c1, position; c2 is that of the set to come.
- The changes of station in a round: its sets in their order, from the way the stations really
  stood when it began.
- A set begun belongs to its round, also when it was given up or its exercise dropped later; a set
  skipped or dropped before its start does not.
- A rest decided anew leaves at least the lead-in from that instant, and what was asked for is
  forgotten. A drop that leaves the coming bout as it is does not decide the rest anew.
- A pause in a rest: start at the later of the planned instant and the return + lead-in.
"""

from __future__ import annotations

from collections.abc import Sequence

from .model import (
    Act,
    Bout,
    Case,
    Decision,
    Exercise,
    Happened,
    InexactError,
    Outcome,
    PlannedSet,
    Session,
    Status,
)

Ask = tuple[int, int, int]  # end of a past bout; rest asked from there in full; at least


def level(need: int, floors: Sequence[int]) -> int:
    """The smallest level from 0 on for which Σ max(level, f) reaches `need`, by counting up."""
    found = 0
    while sum(max(found, floor) for floor in floors) < need:
        found += 1
    if found and sum(max(found, floor) for floor in floors) != need:
        raise InexactError(f"level for {need} over {list(floors)}")
    return found


def planned_sets(session: Session) -> list[PlannedSet]:
    """Every bout of the plan in its order."""
    found = []
    for number, block in enumerate(session.blocks, 1):
        for round_ in range(1, max(exercise.sets for exercise in block) + 1):
            for exercise in block:
                if round_ <= exercise.sets:
                    for side in exercise.order:
                        second = side != exercise.order[0]
                        found.append(PlannedSet(number, round_, exercise, side, second))
    return found


def asks(coming: PlannedSet, side_set: PlannedSet, past: Sequence[Bout]) -> list[Ask]:
    """What each past bout demands of one bout of the next set (not of the set's own other side)."""
    settings, mine = coming.exercise.settings, side_set.exercise.loads(side_set.side)
    found = []
    for bout in past:
        if same_set(bout.planned_set, coming):
            continue
        for muscle, side, role in bout.loads:
            for my_muscle, my_side, my_role in mine:
                if (muscle, side) != (my_muscle, my_side):
                    continue
                if role == "prime" and my_role == "prime":
                    found.append((bout.end, settings.T, settings.L))
                elif role != my_role:
                    found.append((bout.end, settings.A, settings.cross_least))
    return found


def same_set(one: PlannedSet, other: PlannedSet) -> bool:
    return one.key[:3] == other.key[:3]


def recovery(start: int, loads: Sequence[tuple[str, str, str]], past: Sequence[Bout]) -> int | None:
    """Least that any prime mover really had since its last bout as one; None without any."""
    had = []
    for muscle, side, role in loads:
        ends = [bout.end for bout in past if (muscle, side, "prime") in bout.loads]
        if role == "prime" and ends:
            had.append(start - max(ends))
    return min(had) if had else None


class Run:
    """One session, tick by tick."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.queue = planned_sets(session)
        self.acts = list(session.acts)  # those that have not happened
        self.past: list[Bout] = []
        self.decisions: list[Decision] = []
        self.happened: list[Happened] = []
        self.now = 0
        self.paused_until = -1
        self.planned = 0  # start of the coming bout
        self.asked = self.moved = False  # of this rest, as in Bout

    # -- the law -------------------------------------------------------------------------------

    def expected(self, exercise: Exercise, round_: int, index: int) -> int:
        kind, side = exercise.kind(round_), exercise.order[index]
        return self.session.expect(exercise, kind, side, tuple(self.past))

    def members(self, block: int, round_: int) -> list[Exercise]:
        """The exercises of a round, in the block's order: begun, or still to come."""
        begun = [bout.planned_set for bout in self.past]
        keys = {planned_set.key[:3] for planned_set in begun + self.queue}
        return [e for e in self.session.blocks[block - 1] if (block, round_, e.id) in keys]

    def stood(self, past: Sequence[Bout]) -> dict[str, str]:
        """The set-up of each station after these bouts."""
        stood = dict(self.session.stood)
        for bout in past:
            self.leave(stood, bout.planned_set.exercise, bout.planned_set.round)
        return stood

    def leave(self, stood: dict[str, str], exercise: Exercise, round_: int) -> None:
        setup = exercise.setup(round_)
        if exercise.station is not None and setup is not None:
            stood[exercise.station] = setup

    def change(self, stood: dict[str, str], exercise: Exercise, round_: int) -> int:
        """Time that the station needs before this set."""
        station, setup = exercise.station, exercise.setup(round_)
        if station is None or setup is None or station not in stood or stood[station] == setup:
            return 0
        return self.session.stations[station]

    def share(self, coming: PlannedSet) -> tuple[int, int]:
        """Share and ceiling of the changeovers in the round of the set to come."""
        round_, settings = coming.round, coming.exercise.settings
        members = self.members(coming.block, round_)
        here = (coming.block, round_)
        stood = self.stood(
            [b for b in self.past if (b.planned_set.block, b.planned_set.round) != here]
        )
        floors = []
        before = members[-1]
        for exercise in members:
            own = exercise.settings
            change = self.change(stood, exercise, round_)
            floors.append(max(own.c1, before.settings.breather, own.position, change))
            self.leave(stood, exercise, round_)
            before = exercise
        whole = 0
        full, least = [], []
        for exercise in members:
            for index in range(len(exercise.order)):
                length = self.expected(exercise, round_, index)
                whole += length + (exercise.settings.gap if index else 0)
                full.append(exercise.settings.T + length)
                least.append(exercise.settings.L + length)
        ceiling = max(settings.c2, level(max(least) - whole, floors))
        return min(max(level(max(full) - whole, floors), settings.c1), ceiling), ceiling

    def case(self, coming: PlannedSet) -> Case:
        if not self.past:
            return "first"
        last = self.past[-1].planned_set
        if coming.second:
            return "side"
        if last.block != coming.block:
            return "block"
        if last.exercise.id == coming.exercise.id:
            return "straight"
        return "changeover" if len(self.members(coming.block, coming.round)) > 1 else "straight"

    def recovered(
        self, coming: PlannedSet, at: int, asked: tuple[list[Ask], list[Ask]]
    ) -> list[bool]:
        """Whether the coming set, started at this tick, has [all, the least] of its recovery."""
        head = 0
        if len(coming.exercise.order) == 2 and not coming.second:
            head = self.expected(coming.exercise, coming.round, 0) + coming.exercise.settings.gap
        answer = []
        for which in (1, 2):
            own = all(at - ask[0] >= ask[which] for ask in asked[0])
            other = all(at + head - ask[0] >= ask[which] for ask in asked[1])
            answer.append(own and other)
        return answer

    def forced(self, coming: PlannedSet, case: Case) -> dict[str, int]:
        """What a rest must last anyway, in the order in which `why` names it."""
        forced = {"station": 0, "breather": 0, "position": 0, "block": 0}
        if case not in ("first", "side"):
            exercise = coming.exercise
            forced["station"] = self.change(self.stood(self.past), exercise, coming.round)
            forced["breather"] = self.past[-1].planned_set.exercise.settings.breather
            forced["position"] = exercise.settings.position
            if case == "block":
                forced["block"] = exercise.settings.block_rest
        return forced

    def shortest(self, coming: PlannedSet, case: Case, forced: dict[str, int]) -> int:
        """What the rest lasts at least, whatever the muscles ask for."""
        settings = coming.exercise.settings
        if case == "first":
            return self.session.lead_in
        if case == "side":
            return settings.gap
        longest = max(forced.values())
        return longest if case == "block" else max(longest, settings.c1)

    def count(self, since: int, case: Case, floor: int, share: tuple[int, int] | None) -> int:
        """The rest by the law, by counting up until the coming set may start."""
        coming = self.queue[0]
        later = [planned_set for planned_set in self.queue[1:2] if same_set(planned_set, coming)]
        mine = asks(coming, coming, self.past)
        other = asks(coming, later[0], self.past) if later else []
        rest, enough = -1, False
        while not enough:
            rest += 1
            if rest < floor:
                continue
            full, least = self.recovered(coming, since + rest, (mine, other))
            if case == "side":
                enough = least
            elif share is not None:
                enough = least and ((full and rest >= share[0]) or rest >= share[1])
            else:
                enough = full
        return rest

    def decide(self, since: int) -> int:
        """Decide the rest before the coming bout and keep the decision; its planned start."""
        coming = self.queue[0]
        case = self.case(coming)
        forced = self.forced(coming, case)
        share = self.share(coming) if case == "changeover" else None
        rest = self.count(since, case, self.shortest(coming, case, forced), share)
        why = "recovery"
        named = [name for name, value in forced.items() if value > 0 and value == rest]
        if case in ("first", "side"):
            why = "lead-in" if case == "first" else "side"
        elif named:
            why = named[0]
        elif case == "changeover" and rest <= coming.exercise.settings.c2:
            why = "changeover"
        start = since + rest
        if self.now > since and self.now + self.session.lead_in > start:
            start, why = self.now + self.session.lead_in, "lead-in"
        kept = share or (None, None)
        decision = Decision(self.now, since, coming, case, rest, start, why, kept[0], kept[1])
        self.decisions.append(decision)
        return start

    # -- the session ---------------------------------------------------------------------------

    def due_acts(self, phase: str, begun: int) -> list[Act]:
        return [
            act
            for act in self.acts
            if act.after == self.now - begun and act.phase == phase and act.bout <= len(self.past)
        ]

    def happen(self, act: Act, planned_set: PlannedSet) -> None:
        self.acts.remove(act)
        self.happened.append(Happened(self.now, act, planned_set))

    def drop(self, exercise: str) -> None:
        self.queue = [
            planned_set for planned_set in self.queue if planned_set.exercise.id != exercise
        ]

    def rest(self) -> None:
        """From the end of a bout to the start of the next, or until nothing is left to do."""
        since = self.now
        first = self.planned = self.decide(since)
        self.asked = False
        while True:
            if self.now == self.paused_until:
                self.planned = max(self.planned, self.now + self.session.lead_in)
            for act in self.due_acts("rest", since):
                if self.paused_until <= self.now < self.planned:
                    self.act_in_rest(act, since)
                if not self.queue:
                    return
            if self.now >= max(self.planned, self.paused_until):
                break
            self.now += 1
        anew = any(made.since == since and made.anew for made in self.decisions)
        self.moved = anew or self.planned != first
        self.bout(since)

    def act_in_rest(self, act: Act, since: int) -> None:
        coming = self.queue[0]
        self.happen(act, coming)
        if act.what == "skip":
            self.queue = [
                planned_set for planned_set in self.queue if not same_set(planned_set, coming)
            ]
        elif act.what == "drop":
            self.drop(act.exercise or coming.exercise.id)
        elif act.what == "pause":
            self.paused_until = self.now + act.amount
        else:
            wanted = self.planned + act.amount if act.what == "ask" else self.now
            self.planned, self.asked = max(self.now, wanted), True
        if self.queue and self.queue[0] != coming:
            self.planned, self.asked = self.decide(since), False

    def bout(self, since: int) -> None:
        """One running bout, to its end."""
        start, planned_set = self.now, self.queue.pop(0)
        exercise, side = planned_set.exercise, planned_set.side
        usual = exercise.guess(exercise.kind(planned_set.round), side)
        length = exercise.actual.get((planned_set.round, side), usual)
        status: Status = "done"
        while status == "done" and self.now < start + length:
            self.now += 1
            for act in self.due_acts("set", start):
                if self.now >= start + length or status != "done":
                    continue
                self.happen(act, planned_set)
                if act.what == "pause":
                    status, self.paused_until = "paused", self.now + act.amount
                elif act.what == "skip":
                    status = "given up"
                    if act.whole:
                        self.queue = [s for s in self.queue if not same_set(s, planned_set)]
                else:
                    dropped = act.exercise or exercise.id
                    status = "given up" if dropped == exercise.id else "done"
                    self.drop(dropped)
        self.past.append(
            Bout(
                planned_set,
                start,
                self.now,
                status,
                rest_before=start - since,
                why=self.decisions[-1].why,
                recovery=recovery(start, exercise.loads(side), self.past),
                moved=self.moved,
                asked=self.asked,
                loads=exercise.loads(side),
            )
        )


def simulate(session: Session) -> Outcome:
    """The whole session. Raises `InexactError` where the plan is drawn too finely."""
    for act in session.acts:
        if act.after < 1 or (act.what == "pause" and act.amount < 1):
            raise ValueError(f"an act happens, and a pause lasts, at least a tick: {act}")
        if act.phase == "set" and act.what in ("ask", "now"):
            raise ValueError(f"only a rest can be asked for: {act}")
    run = Run(session)
    while run.queue:
        run.rest()
    return Outcome(tuple(run.past), tuple(run.decisions), tuple(run.happened))
