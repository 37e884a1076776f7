"""Running the service: one or several workers that start quickly, stop without losing a request, and bound what arrives.

``python -m service.api.serve`` serves with the settings of the environment and needs nothing of the command line's
libraries; the ``runstand serve`` command calls :func:`serve` as well.
"""

import asyncio
import contextlib
import gc
import logging
import os
import resource
import signal
import sys
import tempfile
from collections.abc import Awaitable, Callable
from functools import partial
from importlib import import_module
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from multiprocessing.context import BaseContext
from socket import socket
from types import FrameType
from typing import Any, cast

from uvicorn import _subprocess
from uvicorn.config import STARTUP_FAILURE
from uvicorn.server import HANDLED_SIGNALS, Server
from uvicorn.supervisors import Multiprocess

from service.api.guard import App, Message, Receive, Scope, Send
from service.api.health import PROCESS
from service.api.protocol import BoundedProtocol, ServerConfig
from service.errors import RunstandError
from service.settings import Settings, WrongSettings, read_settings

DEFAULT_APP = "service.app:create_app"
WRONG_SETTINGS = 2

logger = logging.getLogger("runstand")

_PAUSE = 0.1  # s before a worker that could not be started is tried again
_OPEN_FILES = 65_536  # sockets one process may hold, where the machine lets it
_GC_THRESHOLD = 50_000  # objects made before a collection; the default of 700 interrupts every large answer


def serve(settings: Settings | None = None, app: str = DEFAULT_APP) -> int:
    """Serve until a signal comes.

    Args:
        settings: Host, port, workers and bounds; from the environment where not given.
        app: ``module:function`` that takes the settings and gives the ASGI app; called in each worker.

    Returns:
        The exit code: 0 after a signal, 2 when a setting cannot be, 3 when the app did not start.
    """
    try:
        settings = settings or read_settings()
    except WrongSettings as error:
        logger.critical("The service does not start. %s", error)
        return WRONG_SETTINGS
    _allow_many_connections()
    config = configuration(settings, app)
    if settings.workers > 1:
        supervisor = Supervisor(config, [config.bind_socket()], preload=app.partition(":")[0])
        supervisor.run()
        failed = any(worker.exitcode == STARTUP_FAILURE for worker in supervisor.processes)
        return STARTUP_FAILURE if failed else 0
    server = Server(config)
    # uvicorn raises the signal again once it has stopped in good order; that is a success.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    with contextlib.suppress(KeyboardInterrupt):
        server.run()
    return 0 if server.started else STARTUP_FAILURE


class Supervisor(Multiprocess):
    """uvicorn's supervisor, but quicker to replace a worker that died.

    It hears of a death at once, not at the next of two looks a second, and a worker is forked from a process that has imported
    the app and done nothing else; the imports alone would take a second.

    Args:
        config: What each worker runs with.
        sockets: Where they listen.
        preload: The app's module.
    """

    def __init__(self, config: ServerConfig, sockets: list[socket], preload: str) -> None:
        super().__init__(config, sockets)
        _subprocess.spawn = worker_context(preload)  # type: ignore[assignment]  # what uvicorn starts processes with

    def run(self) -> None:
        """Keep the workers until a signal comes."""
        self.init_processes()
        while not self.should_exit.is_set():
            wait([worker.process.sentinel for worker in self.processes], timeout=0.5)
            for worker in self.processes:
                worker.child_conn.close()  # only the worker's own copy is left: if it dies while it is asked, the pipe says so
            self.handle_signals()
            try:
                self.keep_subprocess_alive()
            except (OSError, EOFError):
                # The process that workers are forked from has died this moment; the next turn starts another.
                logger.warning("A worker could not be started; trying again.")
                self.should_exit.wait(_PAUSE)
        self.terminate_all()
        self.join_all()

    def keep_subprocess_alive(self) -> None:
        """Replace who died, and let go of it: one that only seems dead, because what it was forked from is, stops then."""
        before = tuple(self.processes)
        super().keep_subprocess_alive()
        for worker in before:
            if worker not in self.processes:
                worker.process.close()


def worker_context(preload: str) -> BaseContext:
    """How a worker is started: forked from a process with the imports or, where that has no room for its socket, anew."""
    try:
        tempfile.gettempdir()
    except FileNotFoundError:  # nothing is writable, not even /tmp
        return get_context("spawn")
    context = get_context("forkserver")
    context.set_forkserver_preload([preload])
    return context


def configuration(settings: Settings, app: str = DEFAULT_APP) -> ServerConfig:
    """What uvicorn runs with."""
    return ServerConfig(
        settings=settings,
        app=partial(load, app, settings),
        factory=True,
        host=settings.host,
        port=settings.port,
        workers=settings.workers,
        backlog=settings.backlog,
        loop="uvloop",
        http=BoundedProtocol,
        ws="none",
        interface="asgi3",
        proxy_headers=settings.rate_limit is not None,  # only a quota asks who calls
        lifespan="on",
        log_level=settings.log_level,
        access_log=False,
        server_header=False,
        timeout_keep_alive=settings.keep_alive,
        timeout_graceful_shutdown=settings.grace,
    )


def load(app: str, settings: Settings) -> App:
    """Import the app's factory and call it, inside the worker.

    What fails here would fail again at once: the worker ends with the code that keeps it from being started anew.
    """
    module, _, name = app.partition(":")
    try:
        factory = cast("Callable[[Settings], App]", getattr(import_module(module), name))
        return Lifetime(factory(settings), settings)
    except RunstandError as error:
        logger.critical("The service does not start. %s", error)
    except Exception:
        logger.critical("The service does not start.", exc_info=True)
    sys.exit(STARTUP_FAILURE)


class Lifetime:
    """Around the app for its start and its end; requests pass through untouched."""

    def __init__(self, app: App, settings: Settings) -> None:
        self.app = app
        self.settings = settings

    def __call__(self, scope: Scope, receive: Receive, send: Send) -> Awaitable[None]:
        """Hand on; at the start of the lifespan prepare the process."""
        if scope["type"] == "lifespan":
            drain_on_signal(self.settings.drain)
            stop_with_supervisor()
            send = partial(_settle_when_started, send)
        return self.app(scope, receive, send)


async def _settle_when_started(send: Send, message: Message) -> None:
    if message["type"] == "lifespan.startup.complete":
        # What stands now stays: the collector need not look at it again.
        gc.collect()
        gc.freeze()
        gc.set_threshold(_GC_THRESHOLD)
        gc.enable()
    await send(message)


def drain_on_signal(seconds: float) -> None:
    """Let the first signal to stop turn readiness off, and the server's own handler act some time later.

    In between everything is still answered, each answer closing its connection; a second signal acts at once.
    """
    loop = asyncio.get_running_loop()
    for number in HANDLED_SIGNALS:
        stop = signal.getsignal(number)
        if not callable(stop):
            continue  # not under a server that handles signals

        def on_signal(sent: int, frame: FrameType | None, stop: Callable[[int, Any], Any] = stop) -> None:
            if PROCESS.draining:
                stop(sent, frame)
                return
            PROCESS.drain()
            loop.call_soon_threadsafe(loop.call_later, seconds, stop, sent, None)

        signal.signal(number, on_signal)


def stop_with_supervisor() -> None:
    """Let a worker stop in good order when its supervisor is gone, however it went: nobody else would ever stop it.

    The sentinel is a pipe of which only the supervisor holds the other end, also where the worker was forked from a third
    process, whose end tells nothing.
    """
    supervisor = parent_process()
    if supervisor is None:
        return
    loop = asyncio.get_running_loop()
    sentinel = supervisor.sentinel

    def on_end() -> None:
        loop.remove_reader(sentinel)
        if not PROCESS.draining:
            signal.raise_signal(signal.SIGTERM)

    loop.add_reader(sentinel, on_end)


def _allow_many_connections() -> None:
    """Raise the soft limit of open files to what the machine allows: silent connections must not use it up."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = _OPEN_FILES if hard == resource.RLIM_INFINITY else min(hard, _OPEN_FILES)
    if soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


if __name__ == "__main__":
    sys.exit(serve(app=os.environ.get("RUNSTAND_APP", DEFAULT_APP)))
