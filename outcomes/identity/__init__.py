"""The link file: which hospital number belongs to which study code, encrypted, away from the register."""

from outcomes.identity.link_file import Links, add_link, change_passphrase, read_links, remove_link

__all__ = ["Links", "add_link", "change_passphrase", "read_links", "remove_link"]
