"""The guided consultation in the terminal: commands are pure, the session alone talks to the screen."""
