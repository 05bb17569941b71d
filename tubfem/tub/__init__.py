"""A case on its mesh: stacks, joints, attachments and loads become a shell model."""
