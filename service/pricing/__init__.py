"""Rate cards and invoice lines: decimal money, standard library only, no float."""
