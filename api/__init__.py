"""The faces: command line, HTTP, pages and paper. They read, ask and present; they hold no rule about parts."""
