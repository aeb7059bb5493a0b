"""Having the kernel pass over datagrams that hold certain octets: one's own, for instance, come back.

Linux's socket filter, SO_ATTACH_FILTER of socket(7): a short program in classic BPF that the kernel runs on
each datagram, its UDP header in front. Those passed over count as dropped.
"""

import ctypes
import socket
import struct

from streamer.net.linux import IS_LINUX, SO_ATTACH_FILTER, SO_DETACH_FILTER

UDP_HEADER_OCTETS = 8
WORD_OCTETS = 4
INSTRUCTION = struct.Struct("=HBBI")
"""struct sock_filter: code, jump if true, jump if false, operand; `linux/filter.h`."""
LOAD_WORD = 0x20
"""BPF_LD | BPF_W | BPF_ABS: high octet first."""
JUMP_IF_EQUAL = 0x15
"""BPF_JMP | BPF_JEQ | BPF_K."""
RETURN = 0x06
"""BPF_RET | BPF_K: how many octets to let through."""
ALL_OCTETS = 0xFFFF_FFFF
PROGRAM = struct.Struct("@HP")
"""struct sock_fprog: how many instructions, and where."""


def ignore(sock: socket.socket, at_octet: int, octets: bytes) -> bool:
    """Let a UDP socket hear nothing that holds these octets (a multiple of four) there; say if that works.

    Datagrams that end before them are not heard either.
    """
    if not IS_LINUX:
        return False
    words = len(octets) // WORD_OCTETS
    instructions = []
    for number, (word,) in enumerate(struct.iter_unpack("!I", octets)):
        at = UDP_HEADER_OCTETS + at_octet + number * WORD_OCTETS
        to_the_end = 2 * (words - number - 1) + 1
        instructions += [
            INSTRUCTION.pack(LOAD_WORD, 0, 0, at),
            INSTRUCTION.pack(JUMP_IF_EQUAL, 0, to_the_end, word),
        ]
    instructions += [INSTRUCTION.pack(RETURN, 0, 0, 0), INSTRUCTION.pack(RETURN, 0, 0, ALL_OCTETS)]
    program = ctypes.create_string_buffer(b"".join(instructions))
    told = PROGRAM.pack(len(instructions), ctypes.addressof(program))
    try:
        sock.setsockopt(socket.SOL_SOCKET, SO_ATTACH_FILTER, told)
    except OSError:
        return False
    return True


def ignore_nothing(sock: socket.socket) -> None:
    """Let it hear everything again."""
    if IS_LINUX:
        sock.setsockopt(socket.SOL_SOCKET, SO_DETACH_FILTER, 0)
