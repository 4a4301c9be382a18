"""What if: alternatives side by side on the same simulated surges.

A *design* (`design`) is a scenario and named *alternatives* to it, each a changed scenario. All
are played over the same surges (`play`), and of each play a row of whole numbers is kept
(`outcome`), in parts that outlast a stop (`parts`). `compare` reads them: paired differences with
simultaneous limits (`differences`) and what the alternatives cost (`costs`).
"""
