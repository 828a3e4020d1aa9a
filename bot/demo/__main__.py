"""`python -m bot.demo`: the whole service on this machine with an invented district in it, until Ctrl-C.

Three processes as in service, each over real HTTP: the stand-in gateway with its phones (port + 1), the web
pages, a worker. Everything is kept in one folder; the next start goes on where the last one stopped.
"""

from __future__ import annotations

import argparse
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence
from pathlib import Path

from bot.clock import machine_now
from bot.core.errors import DunnockError
from bot.demo.district import staff
from bot.demo.folder import GATEWAY, SENDER, Folder, open_folder
from bot.demo.network import Network
from bot.demo.phones import Phones
from bot.demo.seeding import beginning, seed
from bot.store.values import clock_offset, resume_clock

READY_WITHIN_S = 60
_LOOK_S = 0.2
_KEEP_TIME_S = 5


def main(arguments: Sequence[str] | None = None) -> None:
    """Fill the district if need be, start the three parts, wait, stop them."""
    args = _parser().parse_args(arguments)
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        _ports_are_free(args.port)
        folder = open_folder(args.data.resolve(), fresh=args.fresh)
        _fill(folder, args.port)
        _resume(folder)
        _run(folder, args.port)
    except DunnockError as error:
        sys.exit(f"\n{error}")
    except KeyboardInterrupt:
        print("\nThe demo has stopped. The same command goes on from here; --fresh begins anew.")


def _interrupt(*_: object) -> None:
    raise KeyboardInterrupt


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="deploy/demo.sh", description="An invented district to try out.")
    parser.add_argument(
        "--port", type=_port, default=8000, help="of the pages; the next one is the gateway's"
    )
    parser.add_argument(
        "--data", type=Path, default=Path(".demo"), help="the folder that keeps the demo (default: .demo)"
    )
    parser.add_argument("--fresh", action="store_true", help="forget what was done and begin anew")
    return parser


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 65534):
        raise argparse.ArgumentTypeError("give a number from 1 to 65534")
    return int(text)


def _ports_are_free(port: int) -> None:
    for each in (port, port + 1):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", each))
            except OSError as error:
                raise DunnockError(
                    f"Port {each} can't be used ({error.strerror}). Is a demo running already? "
                    f"Stop it, or take other ports: sh deploy/demo.sh --port {port + 100}"
                ) from None


def _fill(folder: Folder, port: int) -> None:
    if folder.is_whole:
        return
    print(
        "Filling an invented district: three sites, forty-seven mothers, six weeks of texts ...", flush=True
    )
    begins = beginning(machine_now())
    store, phones = folder.store(), Phones(str(folder.phones))
    seed(store, phones, folder.profile(port + 1), begins, _progress)
    store.close()
    phones.close()
    folder.keep_time(begins)
    folder.whole()
    _progress("")


def _progress(words: str) -> None:
    if sys.stdout.isatty():
        print(f"\r{words:<40}", end="" if words else "\r", flush=True)


def _resume(folder: Folder) -> None:
    """A demo that was stopped stood still: nobody was forgotten meanwhile."""
    stood = folder.kept_time()
    if stood is None:
        return
    store = folder.store()
    with store.write() as conn:
        resume_clock(conn, stood, machine_now())
    store.close()


# ---------------------------------------------------------------- the three parts


def _run(folder: Folder, port: int) -> None:
    parts = _start(folder, port)
    try:
        _wait_until_ready(parts, port)
        _tell_time(folder, port)
        print(_welcome(port), flush=True)
        _watch(folder, parts)
    finally:
        _stop(list(parts.values()))
        _keep_time(folder)


def _start(folder: Folder, port: int) -> dict[str, subprocess.Popen[bytes]]:
    environment = folder.environment(port + 1)
    hook = f"http://127.0.0.1:{port}/hooks/{GATEWAY}"
    commands = {
        "the stand-in gateway": [
            *("bot.demo.standin", "--port", str(port + 1), "--hook", hook),
            *("--sender", SENDER, "--file", str(folder.phones)),
        ],
        "the web pages": ["bot.cli", "serve", "--port", str(port)],
        "the worker": ["bot.cli", "worker"],
    }
    return {
        name: subprocess.Popen(
            [sys.executable, "-m", *command],
            env=environment,
            stdout=subprocess.DEVNULL,
            start_new_session=True,  # Ctrl-C is for us; we stop them in order
        )
        for name, command in commands.items()
    }


def _wait_until_ready(parts: Mapping[str, subprocess.Popen[bytes]], port: int) -> None:
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    until = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < until:
        _all_run(parts)
        try:
            opener.open(f"http://127.0.0.1:{port}/readyz", timeout=2).close()
            opener.open(f"http://127.0.0.1:{port + 1}/counts", timeout=2).close()
            return
        except (urllib.error.URLError, OSError):
            time.sleep(_LOOK_S)
    raise DunnockError(f"The pages did not answer within {READY_WITHIN_S} seconds.")


def _all_run(parts: Mapping[str, subprocess.Popen[bytes]]) -> None:
    for name, part in parts.items():
        if part.poll() is not None:
            raise DunnockError(f"A part of the demo has ended: {name} (exit {part.returncode}); see above.")


def _watch(folder: Folder, parts: Mapping[str, subprocess.Popen[bytes]]) -> None:
    kept = time.monotonic()
    while True:
        _all_run(parts)
        if time.monotonic() - kept > _KEEP_TIME_S:
            _keep_time(folder)
            kept = time.monotonic()
        time.sleep(_LOOK_S)


def _keep_time(folder: Folder) -> None:
    store = folder.store()
    with store.read() as conn:
        folder.keep_time(machine_now() + clock_offset(conn))
    store.close()


def _tell_time(folder: Folder, port: int) -> None:
    """The stand-in stamps its texts with programme time."""
    store = folder.store()
    with store.read() as conn:
        Network(f"http://127.0.0.1:{port + 1}").tell_time(clock_offset(conn))
    store.close()


def _stop(parts: Sequence[subprocess.Popen[bytes]]) -> None:
    for part in parts:
        part.terminate()
    for part in parts:
        try:
            part.wait(10)
        except subprocess.TimeoutExpired:
            part.kill()
            part.wait()


def _welcome(port: int) -> str:
    address = f"http://127.0.0.1:{port}"
    width = max(len(person.login) for person in staff())
    logins = [f"  {person.login:<{width}}  {person.password:<20}  {person.what}" for person in staff()]
    return "\n".join(
        [
            "",
            f"The demo runs. Open  {address}",
            "",
            "Sign in as one of:",
            *logins,
            "",
            f"The mothers' phones:     {address}/demo/phones",
            f"The network's troubles:  {address}/demo/network",
            "",
            "Everybody in it is invented. Stop it with Ctrl-C.",
        ]
    )


if __name__ == "__main__":
    main()
