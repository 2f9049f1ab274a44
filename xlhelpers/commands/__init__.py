"""The commands, one screen each; `fill` is the main job."""
