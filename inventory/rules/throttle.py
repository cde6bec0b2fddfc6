"""How fast anybody may try private links and passwords, and how long too many tries have to wait. In whole seconds.

The figures are common practice, no source. A link has 256 bits: the limit keeps the server free, it is not what
keeps a link from being guessed.
"""

import ipaddress
from dataclasses import dataclass, replace

MINUTE, HOUR = 60, 3600
FAILED = 10  # links that opened nothing, from one address in a minute; then it waits
FLOOD = 60  # from here on nothing of that address is looked at in this minute, not even a link that is right
ALL_FAILED = 300  # from all addresses in a minute; then wrong links are refused unread, right ones still open
DEEDS = 20  # answers, questions and choices by one link in an hour
KEPT = 2 * HOUR  # an address that kept quiet for so long begins anew


@dataclass(frozen=True)
class Tries:
    """What is remembered of one address: tries in this minute, how often it had to wait, and until when."""

    since: int = 0
    count: int = 0
    waits: int = 0
    until: int = 0


def believed(tries: Tries, *, now: int) -> Tries:
    """What was counted at a time still to come is forgotten: the clock was set back, and nobody waits for it."""
    return Tries() if tries.since > now or tries.until > now + HOUR else tries


def window(tries: Tries, *, now: int, seconds: int = MINUTE) -> Tries:
    """The tries as they count now: a window that is over is empty."""
    return tries if now - tries.since < seconds else replace(tries, since=now, count=0)


def failed(tries: Tries, *, now: int) -> Tries:
    """One more link that opened nothing. The wait doubles each time, up to an hour."""
    then = window(tries, now=now)
    then = replace(then, count=then.count + 1)
    if then.count <= FAILED or now < then.until:
        return then
    return replace(then, waits=then.waits + 1, until=now + min(MINUTE << min(then.waits, 6), HOUR))


def is_flood(tries: Tries, *, now: int) -> bool:
    return window(tries, now=now).count >= FLOOD


def wait_of(tries: Tries, *, now: int) -> int:
    """Seconds for which this address is told to wait; 0 where it need not."""
    waiting = max(tries.until - now, 0)
    return max(waiting, tries.since + MINUTE - now) if is_flood(tries, now=now) else waiting


def wait_of_all(tries: Tries, *, now: int) -> int:
    """Seconds for which wrong links wait because too many come from everywhere; 0 where they need not."""
    then = window(tries, now=now)
    return then.since + MINUTE - now if then.count >= ALL_FAILED else 0


def counted(tries: Tries, *, now: int, seconds: int = MINUTE) -> Tries:
    then = window(tries, now=now, seconds=seconds)
    return replace(then, count=then.count + 1)


def wait_of_deeds(tries: Tries, *, now: int) -> int:
    """Seconds until the next deed of a link is taken; 0 where it is taken now."""
    then = window(tries, now=now, seconds=HOUR)
    return then.since + HOUR - now if then.count >= DEEDS else 0


def network_of(address: str) -> str:
    """What counts as one address: of IPv6 the first 64 bits, for one household or firm has all of the rest."""
    try:
        found = ipaddress.ip_address(address.strip().strip("[]"))
    except ValueError:
        return "unknown"
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.ip_network((found.packed[:8] + bytes(8), 64)))


def client_of(*, remote: str, forwarded: str, behind_proxy: bool) -> str:
    """The network of whoever asks. Of what was forwarded only the last entry is the proxy's own word."""
    told = forwarded.rsplit(",", 1)[-1] if behind_proxy and forwarded.strip() else remote
    return network_of(told)


# Signing in. Wrong tries at one account or from one address, then both have to wait. A stranger can make an account
# wait on purpose, so the wait is short and ends by itself; tries made meanwhile do not lengthen it.
ACCOUNT_FAILED = 8  # wrong passwords for one user name, from wherever
ADDRESS_FAILED = 20  # from one address, for whatever names: an office shares one
SIGN_IN_WAIT = 15 * MINUTE  # since the last wrong try that counted; then the wrong tries before it are forgotten
RECHECKS = 5  # wrong passwords by somebody who is signed in: the session may be a stranger's, so it ends


def sign_in_failures(*, of_account: int, of_address: int) -> int:
    """Wrong tries as they are held against `ACCOUNT_FAILED`: an address may have as many more as an office needs."""
    return max(of_account, of_address - (ADDRESS_FAILED - ACCOUNT_FAILED))


def stand_in(digest: str) -> str:
    """An address made of a keyed digest, for a column that takes addresses only: a private one (RFC 4193, fd00::/8)."""
    return str(ipaddress.IPv6Address(bytes.fromhex("fd" + digest[:30])))
