"""The messages for sendmmsg, against the C library's own structures and Python's own sockets."""

import ctypes
import shutil
import socket
import subprocess
from pathlib import Path

import pytest

from streamer.net.linux import IS_LINUX
from streamer.net.mmsg import MESSAGE, socket_address

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="the call is Linux's")
OFFSETS = """
#define _GNU_SOURCE
#include <stddef.h>
#include <stdio.h>
#include <sys/socket.h>
#define AT(field) (int) offsetof(struct mmsghdr, msg_hdr.field)
int main(void) {
    printf("%d %d %d %d %d %d %d %d %d", AT(msg_name), AT(msg_namelen), AT(msg_iov), AT(msg_iovlen),
           AT(msg_control), AT(msg_controllen), AT(msg_flags), (int) offsetof(struct mmsghdr, msg_len),
           (int) sizeof(struct mmsghdr));
}
"""


@pytest.mark.skipif(shutil.which("cc") is None, reason="needs a C compiler, to compare with")
def test_a_message_is_laid_out_as_the_c_library_has_it(tmp_path: Path):
    """Reference: struct mmsghdr of <sys/socket.h>, by this machine's compiler."""
    source, program = tmp_path / "offsets.c", tmp_path / "offsets"
    source.write_text(OFFSETS)
    subprocess.run(["cc", "-o", program, source], check=True)
    theirs = [int(each) for each in subprocess.run([program], capture_output=True, check=True).stdout.split()]
    assert MESSAGE.fields is not None
    header, sent = MESSAGE.fields["header"][0], MESSAGE.fields["sent"]
    assert header.fields is not None
    ours = [place[1] for place in header.fields.values()]
    assert [*ours, sent[1], MESSAGE.itemsize] == theirs


@pytest.mark.parametrize(("family", "address"), [(socket.AF_INET, "127.0.0.1"), (socket.AF_INET6, "::1")])
def test_an_address_is_written_as_the_kernel_writes_it(family: int, address: str):
    """Reference: getsockname(2) of a socket that is bound to it."""
    with socket.socket(family, socket.SOCK_DGRAM) as bound:
        bound.bind((address, 0))
        name, length = ctypes.create_string_buffer(128), ctypes.c_uint32(128)
        libc = ctypes.CDLL(None)
        assert libc.getsockname(bound.fileno(), name, ctypes.byref(length)) == 0
        assert socket_address((address, bound.getsockname()[1])) == name.raw[: length.value]


@pytest.mark.parametrize("address", ["boathouse", "", "1.2.3", "::g", "fe80::1%lo"])
def test_what_is_no_numeric_address_is_refused(address: str):
    """No name server is asked; a zone, RFC 4007, is looked up at each send and never laid out for many."""
    with pytest.raises(OSError, match="illegal IP address"):
        socket_address((address, 9))
