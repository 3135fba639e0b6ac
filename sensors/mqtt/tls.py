"""Encryption to an outside broker: always checked, and said plainly where it cannot be."""

from __future__ import annotations

import ssl

import paho.mqtt.client as paho

from curewatch.errors import ConfigError
from curewatch.settings.settings import MqttSettings

_UNKNOWN = (18, 19, 20, 21)
_EXPIRED, _NOT_YET = 10, 9
_OTHER_NAME = (62, 64)


def encrypt(client: paho.Client, mqtt: MqttSettings) -> None:
    """Have a client speak TLS where the settings ask for it. Raises ConfigError.

    The certificate and its name are always checked; there is no setting against it.
    """
    if not mqtt.tls:
        return
    try:
        client.tls_set(ca_certs=str(mqtt.ca_file) if mqtt.ca_file else None)
    except (OSError, ValueError) as error:
        raise ConfigError(
            f"has no usable certificate ({error})",
            where=str(mqtt.ca_file),
            fix="give the CA's certificate as PEM",
        ) from None


def of_encryption(error: BaseException | None, mqtt: MqttSettings) -> bool:
    """Whether a connection failed while encryption was agreed on."""
    return isinstance(error, ssl.SSLError) or (mqtt.tls and isinstance(error, ConnectionResetError))


def distrust(error: OSError, mqtt: MqttSettings) -> str:
    """Why the broker's certificate is not trusted, and what to do, as the end of a sentence."""
    if not isinstance(error, ssl.SSLCertVerificationError):
        why = getattr(error, "reason", None) or error.strerror or error
        return (
            f"it has no version of TLS in common with curewatch ({why}); check its port and version"
        )
    code = error.verify_code
    if code in _UNKNOWN:
        who = f"the CA in {mqtt.ca_file.name}" if mqtt.ca_file else "a CA that this machine knows"
        return (
            f"its certificate is not signed by {who}; put the certificate of the CA that signed it"
            " into ca_file"
        )
    if code in _OTHER_NAME:
        return f"its certificate is not for {mqtt.host}; use the name that stands in it as host"
    if code in (_EXPIRED, _NOT_YET):
        return "its certificate is out of date; renew it, or set this machine's clock right"
    return f"its certificate does not hold ({error.verify_message})"
