"""Everything that can be set from outside, read once from the environment when the app is put together.

Each field is an environment variable with the prefix ``RUNSTAND_`` (``RUNSTAND_PORT=8080``). There are no secrets here:
of an API key the service knows only the SHA-256 sum.
"""

import json
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, ValidationError, field_validator
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

Sha256Hex = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Rate = Annotated[str, StringConstraints(pattern=r"^[1-9][0-9]{0,6}/(second|minute|hour|day)$")]


def _data_beside_the_package() -> Path:
    return Path(__file__).resolve().parent.parent / "data"


class Settings(BaseSettings):
    """How one instance of the service runs; the defaults suit a bench and a container alike."""

    model_config = SettingsConfigDict(env_prefix="RUNSTAND_", frozen=True, extra="forbid")

    data: Path = Field(
        default_factory=_data_beside_the_package, description="Folder that holds the reference dataset, all versions."
    )

    host: str = Field("127.0.0.1", description="Address to listen on; 0.0.0.0 for all of the machine.")
    port: int = Field(8000, ge=0, le=65535, description="Port to listen on; 0 takes a free one.")
    workers: int = Field(1, ge=1, le=64, description="Processes that share the port.")
    backlog: int = Field(2048, ge=1, le=65535, description="New connections that may wait to be accepted.")
    log_level: Literal["critical", "error", "warning", "info", "debug"] = Field(
        "info", description="Lowest level of the server's own messages on standard error."
    )
    log_requests: bool = Field(True, description="Write one JSON line a request on standard output.")
    metrics: bool = Field(True, description="Answer GET /metrics with figures in the Prometheus text format.")

    address_limit: int = Field(8000, ge=256, description="Longest address (path and query), in octets.")
    header_limit: int = Field(32_768, ge=1024, description="Largest request line and header together, in octets.")
    header_count_limit: int = Field(100, ge=8, description="Most header fields in one request.")

    header_deadline: float = Field(5.0, gt=0, description="Seconds in which a complete header must have arrived.")
    body_deadline: float = Field(5.0, gt=0, description="Seconds in which a complete body must have arrived.")
    send_deadline: float = Field(
        10.0, gt=0, description="Seconds a caller may go without reading before the connection is closed."
    )
    keep_alive: int = Field(15, ge=1, description="Seconds an idle connection stays open for the next request.")
    drain: float = Field(
        0.5, ge=0, description="Seconds between a signal to stop (readiness turns false) and the end of listening."
    )
    grace: int = Field(3, ge=1, description="Seconds that requests in flight have to finish once listening has ended.")

    concurrency: int = Field(64, ge=1, description="Requests in flight in one worker; more are answered 503.")
    longest_wait: float = Field(
        0.25, gt=0, description="Seconds a request may have waited for the processor before it is answered 503."
    )

    kept_answers: int = Field(
        8_388_608, ge=0, description="Octets of answers that one worker keeps for questions asked again; 0 keeps none."
    )

    api_key_hashes: Annotated[tuple[Sha256Hex, ...], NoDecode] = Field(
        (), description="SHA-256 sums (hexadecimal) of the API keys that are let in, joined by commas; empty lets everybody in."
    )
    rate_limit: Rate | None = Field(
        None, description='Requests per caller and worker, such as "100/minute"; not set means no limit.'
    )

    @field_validator("api_key_hashes", mode="before")
    @classmethod
    def _split(cls, given: object) -> object:
        if not isinstance(given, str):
            return given
        text = given.strip()
        if text.startswith("["):
            return json.loads(text)
        return [part.strip() for part in text.split(",")] if text else ()


class WrongSettings(ValueError):
    """Settings that cannot be; the message is one line for whoever set them, and repeats no value."""


def read_settings(**given: Any) -> Settings:
    """The settings given, and for the rest those of the environment.

    Raises:
        WrongSettings: one of them cannot be.
    """
    try:
        return Settings(**given)
    except ValidationError as error:
        faults = [(str(fault["loc"][0]), fault["msg"]) for fault in error.errors(include_url=False, include_input=False)]
        raise WrongSettings("; ".join(f"{name} (RUNSTAND_{name.upper()}): {reason}" for name, reason in faults)) from None
