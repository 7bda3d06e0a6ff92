"""The counter's pages: one line to ask, an answer that can be read out, pictures, bench pages, and paper."""
