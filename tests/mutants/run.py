"""Mutation testing of the control core: does a test fail when the core does?

Every mutant (edits.py, conditional.py) gets its own copy of the firmware; a forked process runs the
tests on it until one fails. Tests that killed a mutant of the same function go first, then those of
the same module. Without a mutant the tests have to pass: all of them before, or, for a small
sample, those that killed afterwards. Survivors are printed; a JSON file keeps all results. A later
call continues from that file, after an interruption, or with --survivors after new tests. Exit
status: 0 all killed or explained, 1 some not, 2 the tests fail without a mutant or the call was
wrong.
"""

import argparse
import contextlib
import hashlib
import importlib
import json
import os
import random
import re
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import conditional
import edits
import pytest

HERE = Path(__file__).parent
ROOT = Path(__file__).parents[2]
# Tests that edit the core's source would fail on any mutant: their edit no longer fits.
NEAR = ROOT / "tests" / "firmware" / "control"
TESTS = ["tests/firmware/control", "--ignore-glob=*/test_without*", "--ignore-glob=*/test_runtime*"]
# The matrix finds what is wrong in one place only; slips die sooner in the tests of their module.
TESTS_OF = {"slips": [*TESTS, "--ignore-glob=*/matrix/*"], "conditional": TESTS}
# Fixtures that run the same expectations more slowly: on MicroPython, on a core that checks itself.
WITHOUT = ["micropython", "on_micropython", "checked"]
TIMEOUT_S = 20
# A mutant gets this much more time than the tests need: it may loop for ever, or just longer.
PATIENCE = 3
# A single test gets at least this much processor time before it counts as an endless loop. Tests of
# one file share what they drive; whichever runs first pays for it.
TEST_S = 2
# The same where the tests were not timed before. The longest takes 8 s.
UNTIMED_S = 60
FIRST_KILLERS = 12
SEQUENCES = "test_relay_truth"
# Tests are sorted by length in steps of this, so that neighbours stay together.
LENGTH_S = 0.05
LOOK_S = 0.01
SAVE_S = 10
SLIPS, CONDITIONAL = "slips", "conditional"
KILLED, SURVIVED, TIMEOUT = "killed", "survived", "timeout"


def file_of(nodeid):
    """The file of a test."""
    return nodeid.partition("::")[0]


class Judge:
    """In the child: orders, selects and times the tests, and remembers the first that fails."""

    def __init__(self, mutant, first, lengths_s, without, timed, only=()):
        self.mutant = mutant
        self.rank = {name: place for place, name in enumerate(first)}
        self.nearness = {}
        self.lengths_s = lengths_s
        self.files_s = Counter()
        for name, seconds in lengths_s.items():
            self.files_s[file_of(name)] += seconds
        self.without = set(without)
        self.only = set(only)
        # Whether all lengths are known, not only those of tests that ran on earlier mutants.
        self.timed = timed
        self.killer = ""
        self.ran_s = Counter()

    def place(self, item):
        """Likely killers first, then the short tests before the long ones.

        Before lengths are known the sequences: each goes through the whole core, and all of them
        take a third of the time of the other modules' tests.
        """
        length = self.lengths_s.get(item.nodeid, 0) // LENGTH_S if self.timed else item.path.stem != SEQUENCES
        near = self.nearness.get(item.nodeid.rpartition("[")[2].rstrip("]"), 2)
        return self.rank.get(item.nodeid, len(self.rank)), near, length

    def is_due(self, item):
        """Whether a test is wanted, and has not run yet."""
        if self.only and item.nodeid not in self.only:
            return False
        return item.nodeid not in self.ran_s and not self.without & set(item.fixturenames)

    def pytest_collection_modifyitems(self, config, items):
        libraries = [item.module.library for item in items if item.path.stem == SEQUENCES]
        if libraries and self.mutant:
            self.nearness = nearness(self.mutant, libraries[0].PROTECTIONS)
        items[:] = sorted(filter(self.is_due, items), key=self.place)

    def pytest_runtest_logstart(self, nodeid):
        """A test that loops for ever ends its child long before the whole mutant is late."""
        known = self.timed and nodeid in self.lengths_s
        signal.setitimer(signal.ITIMER_PROF, max(TEST_S, PATIENCE * self.files_s[file_of(nodeid)]) if known else UNTIMED_S)

    def pytest_runtest_logfinish(self):
        signal.setitimer(signal.ITIMER_PROF, 0)

    def pytest_collectreport(self, report):
        if report.failed:
            self.killer = self.killer or f"import: {report.nodeid}"

    def pytest_runtest_logreport(self, report):
        self.ran_s[report.nodeid] += report.duration
        if report.failed:
            self.killer = self.killer or report.nodeid


def nearness(mutant, protections):
    """Sequences that prove a protection of the mutant's function (0) or of its module (1)."""
    names, found = set(re.findall(r"^(?:def )?(\w+)", mutant.source, re.M)), {}
    for protection in protections:
        place = protection.edit.where.rpartition(".")[2]
        if place in names:
            found[protection.sequence] = min(found.get(protection.sequence, 1), place != mutant.function)
    return found


def judge_in_child(copy, near, arguments, judge, pipe):
    """In the child: run the tests on this copy of the firmware, write the verdict, exit."""
    os.setsid()
    os.dup2(os.open(copy / "output", os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 1)
    os.dup2(1, 2)
    sys.path.insert(0, str(copy))
    os.environ["PYTHONPATH"] = os.pathsep.join([str(copy), os.environ.get("PYTHONPATH", "")])
    signal.signal(signal.SIGPROF, lambda *_: tell(copy, pipe, late=True))
    flags = ["-x", "-q", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist"]
    # The module's own tests first: collecting all tests takes longer than most mutants live.
    code = pytest.main([*flags, *near], plugins=[judge]) if near else 0
    if code == 0:
        code = pytest.main([*flags, *arguments], plugins=[judge])
    tell(copy, pipe, code=int(code), killer=judge.killer, ran_s=judge.ran_s, imported=imported(copy))


def tell(copy, pipe, code=1, killer="", late=False, **more):
    """In the child: write the verdict and exit."""
    (copy / "verdict").write_text(json.dumps({"code": code, "killer": killer, "late": late, **more}))
    os.write(pipe, b".")
    os._exit(0)


def imported(copy):
    """Imported modules that no mutant changes: neither ours nor the tests."""
    ours = (str(copy), str(ROOT / "tests"), str(ROOT / "firmware"), str(ROOT / "host_sim"), str(ROOT / "hil"))
    files = {name: getattr(module, "__file__", None) or "" for name, module in list(sys.modules.items())}
    return [name for name, file in files.items() if f"{os.sep}site-packages{os.sep}" in file and not file.startswith(ours)]


class Trial:
    """One mutant in one child process; without a mutant, the core as it is."""

    def __init__(self, copy, mutant, near, arguments, judge, limit_s):
        self.mutant = mutant
        self.copy = copy
        self.begun = time.monotonic()
        self.limit_s = limit_s
        if mutant:
            self.path = copy / "twinloop" / "control" / f"{mutant.module}.py"
            self.whole = self.path.read_text()
            self.path.write_text(mutant.source)
        # Edits within a second may have the same length: drop compiled files, which would pass for
        # new.
        shutil.rmtree(copy / "twinloop" / "control" / "__pycache__", ignore_errors=True)
        self.pipe, inner = os.pipe()
        sys.stdout.flush()
        self.pid = os.fork()
        if self.pid == 0:
            judge_in_child(copy, near, arguments, judge, inner)
        os.close(inner)

    def result(self):
        """The outcome, None while it runs. Afterwards the copy is whole again."""
        late = time.monotonic() - self.begun > self.limit_s
        if not late and not select.select([self.pipe], [], [], LOOK_S)[0]:
            return None
        said = not late and os.read(self.pipe, 1)
        self.end()
        found = json.loads((self.copy / "verdict").read_text()) if said else {"code": 1, "killer": "", "late": True}
        if found["code"] in (3, 4, 5):
            raise SystemExit(f"mutants: pytest could not run the tests:\n{(self.copy / 'output').read_text()[-2000:]}")
        outcome = TIMEOUT if found["late"] else SURVIVED if found["code"] == 0 else KILLED
        found.update(outcome=outcome, seconds=round(time.monotonic() - self.begun, 2))
        return found

    def end(self):
        """Kill the child and all it started, and restore the copy."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.pid, signal.SIGKILL)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.pipe)
        if self.mutant:
            self.path.write_text(self.whole)


class Campaign:
    """All trials of one call, and results of earlier calls."""

    def __init__(self, options):
        self.options = options
        self.control = Path(options.firmware) / "twinloop" / "control"
        self.known = edits.explained(options.explained, options.kind == CONDITIONAL) if options.explained else set()
        self.mutants = chosen(options, self.all_mutants())
        if options.skip_explained:
            self.mutants = [mutant for mutant in self.mutants if not self.is_known(mutant.name)]
        self.results = {}
        self.folder = Path(tempfile.mkdtemp(prefix="twinloop-mutants-"))
        self.copies = []
        for number in range(options.jobs):
            copy = self.folder / str(number)
            skip = shutil.ignore_patterns("__pycache__", "*.pyc")
            shutil.copytree(Path(options.firmware) / "twinloop", copy / "twinloop", ignore=skip)
            self.copies.append(copy)
        self.by_function, self.by_module, self.by_all = Counter(), Counter(), Counter()
        self.lengths_s = {}
        self.warm = set()
        self.saved = time.monotonic()

    def all_mutants(self):
        """Every mutant of the chosen kind."""
        if self.options.kind == SLIPS:
            return edits.all_mutants(self.control)
        return conditional.all_mutants(self.control, self.felt())

    def felt(self):
        """Which conditional mutants are felt; kept beside the results.

        A process of its own finds out: here the core must stay unimported.
        """
        path = self.options.results.with_name(f"felt-{self.fingerprint()}.json")
        if not path.exists():
            run = subprocess.run([sys.executable, HERE / "felt.py", self.control], capture_output=True, text=True, check=False)
            if run.returncode != 0:
                raise SystemExit(f"mutants: felt.py failed:\n{run.stderr[-2000:]}")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(run.stdout)
        return json.loads(path.read_text())

    def is_known(self, name):
        """Whether the page explains this survivor, by name or by a pattern of conditional ones."""
        if self.options.kind == SLIPS or name in self.known:
            return name in self.known
        return any(conditional.matches(name, known) for known in self.known)

    def fingerprint(self):
        """Hash over the core and the chosen tests."""
        digest = hashlib.sha256(json.dumps(self.options.tests).encode())
        for path in sorted(self.control.glob("*.py")):
            digest.update(path.name.encode() + path.read_bytes())
        return digest.hexdigest()[:16]

    def resume(self):
        """Load what an earlier call found about the same core."""
        with contextlib.suppress(OSError):
            kept = json.loads(self.options.results.read_text())
            if kept["fingerprint"] == self.fingerprint() and not self.options.again:
                self.results = kept["mutants"]
                if self.options.survivors:
                    self.results = {name: found for name, found in self.results.items() if found["outcome"] != SURVIVED}
        for name, found in self.results.items():
            self.learn(name.split(":")[0], found)

    def learn(self, place, found):
        """Remember which test killed a mutant of this place."""
        if found["killer"] and not found["killer"].startswith("import"):
            self.by_function[place, found["killer"]] += 1
            self.by_module[place.split(".")[0], found["killer"]] += 1
            self.by_all[found["killer"]] += 1

    def first(self, mutant):
        """Tests that are likely to kill this mutant, most likely first."""
        place = f"{mutant.module}.{mutant.function}"
        near = [killer for (where, killer), _ in self.by_function.most_common() if where == place]
        far = [killer for (where, killer), _ in self.by_module.most_common() if where == mutant.module]
        anywhere = [killer for killer, _ in self.by_all.most_common(FIRST_KILLERS)]
        return list(dict.fromkeys([*near[:FIRST_KILLERS], *far[:FIRST_KILLERS], *anywhere]))

    def trial(self, copy, mutant, limit_s, only=()):
        """Start a trial, of these tests only if any are named."""
        timed = not self.options.check_killers
        judge = Judge(mutant, self.first(mutant) if mutant else [], self.lengths_s, self.options.without, timed, only)
        near = own_files(mutant) if self.own_tests(mutant) else []
        if near and self.options.kind == CONDITIONAL:
            near += sorted(str(path) for path in (NEAR / "matrix").glob("test_[!w]*.py"))
        return Trial(copy, mutant, near, self.options.tests, judge, limit_s)

    def own_tests(self, mutant):
        """Whether tests of the mutant's own module may be among the chosen ones."""
        return mutant is not None and self.options.tests == TESTS_OF[self.options.kind]

    def baseline_s(self):
        """Run the tests without a mutant; returns their time. They have to pass."""
        found = self.unchanged()
        self.lengths_s = found["ran_s"]
        self.warm_up(found)
        return found["seconds"]

    def unchanged(self, only=()):
        """Run all tests, or only these, without a mutant. They have to pass."""
        trial = self.trial(self.copies[0], None, self.options.timeout_s * 30, only)
        while (found := trial.result()) is None:
            pass
        if found["outcome"] != SURVIVED:
            text = (self.copies[0] / "output").read_text()[-2000:]
            raise SystemExit(f"mutants: the tests fail without any mutant ({found['outcome']}):\n{text}")
        print(f"{len(found['ran_s'])} tests, {found['seconds']} s without a mutant", flush=True)
        return found

    def warm_up(self, found):
        """Import what no mutant changes once, before the forks."""
        for name in set(found.get("imported", ())) - self.warm:
            self.warm.add(name)
            with contextlib.suppress(Exception):
                importlib.import_module(name)

    def check_killers(self):
        """Run each test that killed without a mutant: only a test that passes there can kill."""
        killers = {found["killer"] for found in self.results.values()} - {""}
        killers = {killer for killer in killers if not killer.startswith("import: ")}
        if killers and set(self.unchanged(killers)["ran_s"]) != killers:
            raise SystemExit("mutants: a test that killed was not found again without any mutant")

    def save(self):
        """Save the results so far. An interruption leaves the older file."""
        path = self.options.results
        path.parent.mkdir(parents=True, exist_ok=True)
        document = {"fingerprint": self.fingerprint(), "tests": self.options.tests, "mutants": self.results}
        path.with_suffix(".new").write_text(json.dumps(document, indent=1))
        path.with_suffix(".new").replace(path)
        self.saved = time.monotonic()

    def note(self, mutant, found, left):
        """Record one result."""
        self.results[mutant.name] = {key: found[key] for key in ("outcome", "killer", "seconds")} | {"line": mutant.line}
        self.learn(f"{mutant.module}.{mutant.function}", found)
        if found["outcome"] == SURVIVED:
            print(f"survived: {mutant.name} (line {mutant.line}); {left} to go", flush=True)
        if time.monotonic() - self.saved > SAVE_S:
            self.save()

    def run(self):
        """Try every chosen mutant that has no result yet."""
        waiting = [mutant for mutant in self.mutants if mutant.name not in self.results]
        if not waiting:
            return
        limit_s = self.options.timeout_s
        if not self.options.check_killers:
            limit_s = max(limit_s, PATIENCE * self.baseline_s())
        running = {}
        try:
            while waiting or running:
                self.pass_trials(waiting, running, limit_s)
        finally:
            for trial in running.values():
                trial.end()
            self.save()

    def pass_trials(self, waiting, running, limit_s):
        """Start trials on free copies, record those that have ended."""
        for copy in self.copies:
            if copy not in running and waiting:
                running[copy] = self.trial(copy, waiting.pop(0), limit_s)
        for copy, trial in list(running.items()):
            found = trial.result()
            if found is not None:
                del running[copy]
                self.warm_up(found)
                if self.options.check_killers:
                    self.lengths_s.update(found.get("ran_s", {}))
                self.note(trial.mutant, found, len(waiting) + len(running))

    def report(self):
        """Print the figures; returns 1 when a survivor has no explanation."""
        outcomes = {mutant.name: self.results[mutant.name]["outcome"] for mutant in self.mutants}
        seconds = sum(self.results[name]["seconds"] for name in outcomes)
        survived = [name for name, outcome in outcomes.items() if outcome == SURVIVED]
        killed = len(outcomes) - len(survived)
        share = 100 * killed / max(len(outcomes), 1)
        each = seconds / max(len(outcomes), 1)
        print(f"{len(outcomes)} mutants, {killed} killed ({share:.1f} %), {len(survived)} survived, {each:.2f} s each")
        for name in [name for name, outcome in outcomes.items() if outcome == TIMEOUT]:
            print(f"killed by its time: {name}")
        unknown = [name for name in survived if not self.is_known(name)]
        for name in unknown:
            print(f"not explained: {name}")
        return 1 if unknown else 0


def own_files(mutant):
    """Test files of the mutant's module, and then others that call its function."""
    own = sorted(NEAR.rglob(f"test_{mutant.module}*.py"))
    callers = [path for path in sorted((NEAR / "modules").glob("test_*.py")) if f".{mutant.function}(" in path.read_text()]
    return [str(path) for path in dict.fromkeys([*own, *callers])]


def chosen(options, mutants):
    """The mutants that the call asks for."""
    if options.only:
        mutants = [mutant for mutant in mutants if f"{mutant.module}.{mutant.function}".startswith(options.only)]
    if options.sample:
        mutants = random.Random(options.seed).sample(mutants, min(options.sample, len(mutants)))
    return mutants


def parsed(arguments):
    """The options of the call."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--firmware", type=Path, default=ROOT / "firmware", help="folder with the package twinloop")
    parser.add_argument("--kind", choices=(SLIPS, CONDITIONAL), default=SLIPS, help="small edits, or wrong only under a condition")
    parser.add_argument("--results", type=Path, help="file of results, continued if there is one (default: runs/mutants.json)")
    parser.add_argument("--explained", type=Path, help="page that explains survivors")
    parser.add_argument("--only", help="a module, or module.function")
    parser.add_argument("--sample", type=int, help="number of mutants to draw at random")
    parser.add_argument("--seed", type=int, default=20260511, help="seed of the draw")
    parser.add_argument("--jobs", type=int, default=1, help="mutants tried at the same time")
    parser.add_argument("--timeout-s", type=float, default=TIMEOUT_S, help="minimum time for a mutant")
    parser.add_argument("--check-killers", action="store_true", help="run only those that killed without a mutant, afterwards")
    parser.add_argument("--without", nargs="*", default=WITHOUT, help="skip tests that use one of these fixtures")
    parser.add_argument("--skip-explained", action="store_true", help="skip mutants that the page explains")
    parser.add_argument("--survivors", action="store_true", help="retry the survivors of an earlier call")
    parser.add_argument("--again", action="store_true", help="ignore earlier results")
    parser.add_argument("--list", action="store_true", help="list the mutants only")
    parser.add_argument("tests", nargs="*", help="tests and options for pytest, after --")
    options = parser.parse_args(arguments)
    options.tests = options.tests or TESTS_OF[options.kind]
    if options.results is None:
        name = "mutants.json" if options.kind == SLIPS else f"mutants-{options.kind}.json"
        options.results = ROOT / "runs" / name
    return options


def main(arguments):
    """Run the call; returns the exit status."""
    options = parsed(arguments)
    campaign = Campaign(options)
    try:
        if options.list:
            for mutant in campaign.mutants:
                print(f"{mutant.line:4} {mutant.name}")
            return 0
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        campaign.resume()
        campaign.run()
        if options.check_killers:
            campaign.check_killers()
        return campaign.report()
    except SystemExit as fault:
        print(fault, file=sys.stderr)
        return 2
    finally:
        shutil.rmtree(campaign.folder, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
