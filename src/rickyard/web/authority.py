"""A certificate authority of the yard's own, kept beside the book, and the server's certificate made by it.

Browsers keep pages for use without signal only where they come over HTTPS, and no public authority gives a
certificate for an address of a private network. So the computer has an authority of its own, which each phone is
told to trust once.

Two files lie in the authority's folder, each holding a private key and readable by its owner only:

`authority.pem`
    The authority's key, its certificate, and the one before it while that has not ended.
`server.pem`
    The key and certificate that the server shows. Made again whenever names, addresses or time ask for it.

Whoever steals the authority's key could otherwise pass for any site before the phones that trust it. Its
certificate therefore says, in a constraint that browsers must heed, that it speaks only for private addresses,
`localhost`, names under `.local` and the machine's own names, and only for servers.
"""

from __future__ import annotations

import ipaddress
import os
import re
import secrets
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from rickyard.errors import InputError
from rickyard.text import T_, Text

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

# Addresses that never lead out of a private network: RFC 1918, 3927, 1122, 4193, 4291.
PRIVATE_NETWORKS: tuple[Network, ...] = tuple(
    ipaddress.ip_network(network)
    for network in (
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
        "169.254.0.0/16",
        "127.0.0.0/8",
        "fc00::/7",
        "fe80::/10",
        "::1/128",
    )
)
PRIVATE_DOMAINS = ("localhost", "local")

AUTHORITY_FILE, SERVER_FILE = "authority.pem", "server.pem"
AUTHORITY_DAYS = 3650
# Renewed this long before its end, so that the server's certificate never has to be cut short and phones have
# a year to take the new one.
AUTHORITY_RENEWED_DAYS = 400
# The longest that browsers take from public authorities since 2020; some hold private ones to it too.
SERVER_DAYS = 397
SERVER_RENEWED_DAYS = 30
# A phone whose clock is behind must not find a certificate of the future.
BEFORE = timedelta(days=1)

_LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")


@dataclass(frozen=True)
class Authority:
    """The authority: its key, its certificate, and the one before it while that still holds."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate
    earlier: x509.Certificate | None = None

    @property
    def der(self) -> bytes:
        """The certificate as phones take it."""
        return self.certificate.public_bytes(Encoding.DER)

    @property
    def sha256(self) -> str:
        """SHA-256 of the certificate, 64 hexadecimal digits: what phones show as its fingerprint."""
        return self.certificate.fingerprint(hashes.SHA256()).hex()

    @property
    def name(self) -> str:
        """What lists of certificates call it."""
        return str(self.certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)

    def covers(self, name: str | Address) -> bool:
        """Whether it may speak for a host name or an address."""
        limits = self.certificate.extensions.get_extension_for_class(x509.NameConstraints).value
        permitted = limits.permitted_subtrees or []
        if isinstance(name, str):
            domains = [item.value for item in permitted if isinstance(item, x509.DNSName)]
            return any(name == domain or name.endswith(f".{domain}") for domain in domains)
        ranges = (item.value for item in permitted if isinstance(item, x509.IPAddress))
        networks = [
            item for item in ranges if isinstance(item, ipaddress.IPv4Network | ipaddress.IPv6Network)
        ]
        return any(name in network for network in networks)


@dataclass(frozen=True)
class ServerCertificate:
    """The server's certificate, the file that holds it with its key, and the names that had to be left out."""

    path: Path
    certificate: x509.Certificate
    left_out: tuple[str, ...] = ()

    @property
    def hosts(self) -> tuple[str, ...]:
        """The host names that it holds for."""
        return tuple(item for item in _names_of(self.certificate) if isinstance(item, str))

    @property
    def addresses(self) -> tuple[Address, ...]:
        """The addresses that it holds for."""
        return tuple(item for item in _names_of(self.certificate) if not isinstance(item, str))


def groups_of(sha256: str) -> tuple[str, ...]:
    """A fingerprint as people compare it: eight groups such as `AB:12:CD:34`, as phones show it."""
    pairs = [sha256[at : at + 2].upper() for at in range(0, len(sha256), 2)]
    return tuple(":".join(pairs[at : at + 4]) for at in range(0, len(pairs), 4))


def host_name(name: str) -> str:
    """A host name that `--name` may give, in lower case; InputError if it is none.

    A name of one label is refused: as a constraint it would open a whole top-level domain.
    """
    plain = name.strip().rstrip(".").lower()
    labels = plain.split(".")
    if len(labels) < 2 or len(plain) > 253 or not all(map(_LABEL.fullmatch, labels)) or _is_address(plain):
        raise InputError(
            "name",
            wanted=T_("a host name with a dot in it, such as yard.local"),
            got=name,
            next_move=T_("Addresses of this computer are taken in by themselves."),
        )
    return plain


def own_names(hostname: str) -> tuple[str, ...]:
    """The names under which a computer may be reached, from what it calls itself.

    The name itself stands for `*.` it too in the authority's constraint. A bare name of letters only may be a
    top-level domain (`dev`, `app`), which must not be opened; with a digit or a hyphen it cannot be one.
    """
    plain = hostname.strip().rstrip(".").lower()
    first = plain.partition(".")[0]
    if not all(map(_LABEL.fullmatch, plain.split("."))) or _is_address(plain) or len(plain) > 253:
        return ("localhost",)
    names = ["localhost"]
    if first != "localhost":
        names.append(f"{first}.local")
        if "." in plain or (not plain.isalpha() and not plain.startswith("xn--")):
            names.append(plain)
    return tuple(dict.fromkeys(names))


def open_authority(folder: Path, *, hostname: str, names: Sequence[str] = (), now: datetime) -> Authority:
    """The authority in a folder; made there if there is none, and renewed a good year before its end.

    A renewed certificate keeps key, name and constraints: phones that took the one before stay content until
    that one ends, and by then must have taken the new one.

    Parameters
    ----------
    hostname
        What the computer calls itself; stands in a new authority's name.
    names
        Host names that a new authority may speak for besides `localhost` and `*.local`.
    now
        The present moment, UTC.

    Raises
    ------
    InputError
        If others than the owner can read the folder or its key, if the file is damaged, if the clock stands
        before the authority's beginning, or if the folder cannot be written.
    """
    with _trouble(folder):
        _make_folder(folder)
        path = folder / AUTHORITY_FILE
        if not path.exists():
            key = ec.generate_private_key(ec.SECP256R1())
            _write(path, _pem(key, _new_authority(key, hostname, names, now)), replace=False)
        authority = _read_authority(path)
        certificate = authority.certificate
        if now < certificate.not_valid_before_utc:
            raise InputError(
                "https_folder",
                wanted=T_("a clock that is right"),
                got=T_("{now}, before the authority was made", now=now.date()),
                next_move=T_("Set this computer's date and time, then start again."),
            )
        if certificate.not_valid_after_utc - now < timedelta(days=AUTHORITY_RENEWED_DAYS):
            fresh = _renewed(authority, now)
            _write(path, _pem(authority.key, fresh, certificate), replace=True)
            authority = _read_authority(path)
        if authority.earlier is not None and authority.earlier.not_valid_after_utc < now:
            authority = Authority(authority.key, authority.certificate)
        return authority


def open_server_certificate(
    folder: Path, authority: Authority, *, hosts: Sequence[str], addresses: Sequence[Address], now: datetime
) -> ServerCertificate:
    """The server's certificate in a folder, made again if it is missing, near its end or for other names.

    Names and addresses that the authority may not speak for are left out and given in `left_out`.
    """
    wanted: list[str | Address] = [name for name in dict.fromkeys(hosts) if authority.covers(name)]
    # An address that holds only with the name of an interface (fe80::1%eth0) cannot be typed into a browser.
    wanted += [
        address
        for address in dict.fromkeys(addresses)
        if authority.covers(address) and not (address.version == 6 and address.is_link_local)
    ]
    left_out = tuple(str(name) for name in dict.fromkeys([*hosts, *addresses]) if not authority.covers(name))
    path = folder / SERVER_FILE
    with _trouble(folder):
        kept = _read_server(path) if path.exists() else None
        if kept is None or not _serves(kept, authority, wanted, now):
            key = ec.generate_private_key(ec.SECP256R1())
            kept = _new_server(key, authority, wanted, now)
            _write(path, _pem(key, kept), replace=True)
    return ServerCertificate(path, kept, left_out)


# -- certificates -------------------------------------------------------------------------------
def _new_authority(
    key: ec.EllipticCurvePrivateKey, hostname: str, names: Sequence[str], now: datetime
) -> x509.Certificate:
    of_key = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    # Two authorities of one computer must be told apart in a phone's list, and by software that goes by names.
    title = f"Rickyard {hostname.partition('.')[0][:40]} {of_key.digest.hex()[:4].upper()}"
    subject = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Rickyard"),
            x509.NameAttribute(NameOID.COMMON_NAME, title),
        ]
    )
    more = [name for name in dict.fromkeys(names) if not name.endswith((".localhost", ".local"))]
    domains = [*PRIVATE_DOMAINS, *(name for name in more if name not in PRIVATE_DOMAINS)]
    limits = x509.NameConstraints(
        permitted_subtrees=[
            *(x509.DNSName(domain) for domain in domains),
            *(x509.IPAddress(network) for network in PRIVATE_NETWORKS),
        ],
        excluded_subtrees=None,
    )
    return _sign_authority(key, subject, limits, now)


def _renewed(authority: Authority, now: datetime) -> x509.Certificate:
    before = authority.certificate
    limits = before.extensions.get_extension_for_class(x509.NameConstraints).value
    return _sign_authority(authority.key, before.subject, limits, now)


def _sign_authority(
    key: ec.EllipticCurvePrivateKey, subject: x509.Name, limits: x509.NameConstraints, now: datetime
) -> x509.Certificate:
    of_key = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BEFORE)
        .not_valid_after(now + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(limits, critical=True)
        .add_extension(of_key, critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(of_key), critical=False)
        .sign(key, hashes.SHA256())
    )


def _new_server(
    key: ec.EllipticCurvePrivateKey, authority: Authority, names: Sequence[str | Address], now: datetime
) -> x509.Certificate:
    issuer = authority.certificate
    of_issuer = issuer.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    # The last second counts as well (RFC 5280, 4.1.2.5).
    end = now - BEFORE + timedelta(days=SERVER_DAYS) - timedelta(seconds=1)
    alternatives = x509.SubjectAlternativeName(
        [x509.DNSName(name) if isinstance(name, str) else x509.IPAddress(name) for name in names]
    )
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Rickyard")]))
        .issuer_name(issuer.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BEFORE)
        .not_valid_after(min(end, issuer.not_valid_after_utc))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(alternatives, critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(of_issuer), critical=False
        )
        .sign(authority.key, hashes.SHA256())
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _names_of(certificate: x509.Certificate) -> list[str | Address]:
    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    names: list[str | Address] = list(found.get_values_for_type(x509.DNSName))
    for value in found.get_values_for_type(x509.IPAddress):
        if isinstance(value, ipaddress.IPv4Address | ipaddress.IPv6Address):
            names.append(value)
    return names


def _serves(
    certificate: x509.Certificate, authority: Authority, wanted: Sequence[str | Address], now: datetime
) -> bool:
    try:
        certificate.verify_directly_issued_by(authority.certificate)
    except (ValueError, TypeError, InvalidSignature):
        return False
    begun = certificate.not_valid_before_utc <= now
    left = certificate.not_valid_after_utc - now
    return (
        begun and left >= timedelta(days=SERVER_RENEWED_DAYS) and set(_names_of(certificate)) == set(wanted)
    )


# -- files --------------------------------------------------------------------------------------
def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(mode=0o700)
    except FileExistsError:
        _private(folder, "700")


def _private(path: Path, mode: str) -> None:
    """Refuses what others than its owner can read or write. Windows has other rights, which are not looked at."""
    found = stat.S_IMODE(path.stat().st_mode)
    if os.name == "posix" and found & 0o077:
        raise InputError(
            "https_folder",
            wanted=T_("{path} readable by its owner only", path=str(path)),
            got=T_("mode {mode}", mode=f"{found:03o}"),
            next_move=T_(
                "Whoever can read the authority's key can pass for this computer before your phones. If nobody "
                "else uses this computer: chmod {wanted} '{path}'. If somebody may have read it: move the folder "
                "away, start again, and install the new certificate on each phone.",
                wanted=mode,
                path=str(path),
            ),
            code="readable_key",
        )


def _write(path: Path, content: bytes, *, replace: bool) -> None:
    """Whole or not at all, and private from the first byte on. Without `replace` the first to come wins."""
    draft = path.with_name(f".{path.name}.{secrets.token_hex(6)}")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if replace:
            draft.replace(path)
            return
        try:
            os.link(draft, path)
        except FileExistsError:
            # Another start made its authority meanwhile: that one holds.
            return
    finally:
        draft.unlink(missing_ok=True)
        _settle(path.parent)


def _settle(folder: Path) -> None:
    """Brings the folder's own list of files to the disk: an authority that phones trust must outlive a power cut."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _pem(key: ec.EllipticCurvePrivateKey, *certificates: x509.Certificate) -> bytes:
    parts = [key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())]
    return b"".join([*parts, *(item.public_bytes(Encoding.PEM) for item in certificates)])


def _read_authority(path: Path) -> Authority:
    _private(path, "600")
    content = path.read_bytes()
    try:
        key = load_pem_private_key(content, password=None)
        certificates = x509.load_pem_x509_certificates(content)
        limits = certificates[0].extensions.get_extension_for_class(x509.NameConstraints)
    except (ValueError, TypeError, x509.ExtensionNotFound) as error:
        raise _damaged(path) from error
    if (
        not isinstance(key, ec.EllipticCurvePrivateKey)
        or key.public_key() != certificates[0].public_key()
        or not limits.critical
    ):
        raise _damaged(path)
    return Authority(key, certificates[0], certificates[1] if len(certificates) > 1 else None)


def _read_server(path: Path) -> x509.Certificate | None:
    """The kept certificate; None if the file is of no use, for another can be made."""
    _private(path, "600")
    content = path.read_bytes()
    try:
        key = load_pem_private_key(content, password=None)
        certificate = x509.load_pem_x509_certificate(content)
    except (ValueError, TypeError):
        return None
    return certificate if key.public_key() == certificate.public_key() else None


def _damaged(path: Path) -> InputError:
    return InputError(
        "https_folder",
        wanted=T_("an authority's key and certificate in {path}", path=str(path)),
        got=T_("something else"),
        next_move=T_(
            "Bring the file back from a copy; or move it away, start again, and install the new certificate "
            "on each phone."
        ),
    )


@contextmanager
def _trouble(folder: Path) -> Iterator[None]:
    """What the disk refuses, in words."""
    try:
        yield
    except OSError as error:
        reason: Text | str = error.strerror or type(error).__name__
        raise InputError(
            "https_folder",
            wanted=T_("a folder that can be read and written"),
            got=T_("{folder}: {reason}", folder=str(folder), reason=reason),
            next_move=T_("Say another one with --https-folder."),
        ) from error


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
