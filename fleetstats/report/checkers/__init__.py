"""What an inspector runs without trusting us: two plain scripts and the figures they agree with.

``check.py`` and ``check.R`` travel with the report as they stand here. They import nothing of this
package and nothing of it imports them.
"""
