#!/usr/bin/env python3
"""Asks a window to close, as a window manager does: the message WM_DELETE_WINDOW (ICCCM 2.0, 4.2.8.1).

    close.py WINDOW     the window's number, on the display that DISPLAY names

Needs python-xlib. Exit status 1 where the window does not take part in that protocol.
"""

import sys

from Xlib import X
from Xlib.display import Display
from Xlib.protocol.event import ClientMessage

display = Display()
window = display.create_resource_object("window", int(sys.argv[1]))
delete, protocols = display.intern_atom("WM_DELETE_WINDOW"), display.intern_atom("WM_PROTOCOLS")
if delete not in window.get_wm_protocols():
    sys.exit("The window does not take WM_DELETE_WINDOW.")
window.send_event(ClientMessage(window=window, client_type=protocols, data=(32, [delete, X.CurrentTime, 0, 0, 0])))
display.sync()
