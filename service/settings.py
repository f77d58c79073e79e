"""What a deployment may set, each as an environment variable that starts with CANNING_."""

from pydantic import Field, SecretStr
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """The settings of one process; every one has a default that is safe to start with."""

    model_config = SettingsConfigDict(env_prefix="CANNING_", hide_input_in_errors=True)  # one is a secret

    database_url: str = "sqlite:///canning-kitchen.db"
    connections: int = Field(default=8, ge=1, le=32)  # below the 40 worker threads, or the service deadlocks
    answer_seconds: float = Field(default=7, gt=0)  # of a server: its own time-outs are shorter, but hang when it hangs
    waiting: int = Field(default=200, ge=0)
    open_connections: int = Field(default=1000, ge=10)  # of a worker; beyond them who has waited longest makes room
    head_seconds: float = Field(default=10, gt=0, le=600)  # how long a connection may take to say what it wants
    body_seconds: float = Field(default=10, gt=0, le=600)  # how long a body may take to arrive
    wait_seconds: float = Field(default=10, gt=0)  # for room to work in; then a request is told to come back
    metrics_token: SecretStr | None = Field(default=None, min_length=16)  # without one there are no metrics
    limits: bool = True
    trusted_proxies: str = "127.0.0.1"  # whose word about a caller's address is taken: addresses or networks, by commas
    requests_per_minute: int = Field(default=600, ge=1)
    public_url: str | None = None  # where people reach the service, for the codes on labels
