"""Small changes to an order of work. `keys` are the blocks' places in it; each function changes them in place."""

from random import Random

from floor.figures.schedule.build import Build
from floor.figures.schedule.chain import waits
from floor.figures.schedule.shop import Shop


def change(shop: Shop, build: Build, keys: list[float], random: Random) -> None:
    """One change of a kind drawn at random."""
    kind = random.random()
    if kind < 0.45:
        hurry(shop, build, keys, random)
    elif kind < 0.8 or len(shop.loads) < 2:
        shake(shop, keys, random)
    else:
        shift(shop, build, keys, random)


def shift(shop: Shop, build: Build, keys: list[float], random: Random) -> None:
    """Move everything of one load earlier or later."""
    load = random.randrange(len(shop.loads))
    end = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
    by = random.gauss(0.0, 0.15 * (end - shop.now))
    for b, block in enumerate(shop.blocks):
        if shop.tasks[block.tasks[0]].load == load:
            keys[b] += by


def shake(shop: Shop, keys: list[float], random: Random) -> None:
    """Blur the starts of some blocks in a stretch of the plan, by about the length of a few runs."""
    n = len(keys)
    scale = random.choice((1.0, 3.0)) * sum(task.length for task in shop.tasks) / len(shop.tasks)
    centre = keys[random.randrange(n)]
    near = sorted(range(n), key=lambda b: abs(keys[b] - centre))[:random.randint(2, max(2, min(n, 24)))]
    for b in near:
        keys[b] += random.gauss(0.0, scale)


def hurry(shop: Shop, build: Build, keys: list[float], random: Random) -> None:
    """In the chain that decides the finish, put a run before one it waits for, or a run in its way after it."""
    chain = [wait for wait in waits(shop, build) if wait.blocker >= 0]
    if not chain:
        shake(shop, keys, random)
        return
    n = random.randrange(len(chain))
    late, early = chain[n].task, chain[n].blocker
    # Runs that wait one for another form a stretch; half the moves jump over more than one of them.
    while random.random() < 0.5 and n + 1 < len(chain) and chain[n + 1].task == early:
        n += 1
        early = chain[n].blocker
    late, early = shop.block_of[late], shop.block_of[early]
    if random.random() < 0.5:
        keys[early] = keys[late] + 1
        return
    # What leads up to the hurried run has to come before as well.
    at, depth, leading = keys[early], 1, [late]
    for block in leading:
        if keys[block] >= at or block == late:
            keys[block] = at - depth
            depth += 1
            leading += [before for before in shop.blocks[block].before if keys[before] >= at]
